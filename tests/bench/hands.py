"""How exactly a hand is measured: ``python -m tests.bench.hands [--seeds 200] [MANEUVER...]``.

Hands fly shipped maneuvers with one error each (`tests.hand.simulated`), 20 to 60 readings a second.
For each measurement: how far it lies from what was put in, on the mean, in 95 of 100 and at worst, how
often it could not be told, and what was told besides that nobody did. The 60 ms of the sensor's delay
are part of what seconds are off by.
"""

from __future__ import annotations

import argparse
import functools
from collections import defaultdict
from collections.abc import Iterator

import numpy as np

from coach.debrief.limits import PLAIN
from coach.flight.airplane import load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.plan import plan
from coach.hand.drift import without_drift
from coach.hand.measured import held, shift
from coach.hand.motion import Motion
from coach.hand.peaks import peaks
from coach.hand.reversals import reversals
from coach.hand.tempo import STEADY, tempo
from coach.hand.whole import whole
from coach.script.catalog import maneuver
from tests.hand import simulated
from tests.hand.simulated import Simulated, Spoiled, planned

MANEUVERS = ("lazy-eight", "chandelle", "steep-turn-45")

RATES_HZ = (20.0, 30.0, 50.0, 60.0)

MORE_DEG, LATE_S, SLOPES = 11.0, 1.4, (0.95, 1.06)

Measurement = tuple[str, float | None]
"""What was measured, less what was put in; None where it could not be told."""


@functools.cache
def flight_of(name: str) -> Flight:
    """A shipped maneuver with a shipped airplane, on an ordinary day."""
    script, airplane = maneuver(name), load("hedgerow-two")
    return plan(script, airplane, conditions(Day(), script, airplane))


def errors(flight: Flight) -> dict[str, tuple[Spoiled, ...]]:
    """What is put in, by its name."""
    most = max(flight.moments, key=lambda one: abs(one.bank_deg))
    from_s, to_s = flight.loops[min(2, len(flight.loops) - 1)]
    found: dict[str, tuple[Spoiled, ...]] = {
        "nothing": (),
        f"bank +{MORE_DEG:g} at {most.name}": (simulated.more_bank(most.time_s, MORE_DEG),),
        f"nose {LATE_S} s late": (simulated.late_nose(LATE_S),),
        f"all {LATE_S} s late": (simulated.late(LATE_S),),
        "bank reversed in a loop": (simulated.reversed_bank(from_s, to_s),),
        "rigid": (simulated.rigid(),),
    }
    return found | {f"tempo {slope}": (simulated.tempo(slope),) for slope in SLOPES}


def measured(flight: Flight, error: str, ideal: Motion, motion: Motion) -> Iterator[Measurement]:
    """All that is measured of one hand."""
    own = tempo(motion, ideal)
    motion = without_drift(motion, own.followed(ideal))
    wrong = reversals(motion, own.followed(ideal))
    loops = [whole(motion, ideal, *loop) for loop in flight.loops]
    nose = LATE_S if error.startswith(("nose", "all")) else 0.0
    wings = LATE_S if error.startswith("all") else 0.0
    if error.startswith("tempo"):
        yield "tempo's slope", own.slope - float(error.split()[1])
    elif own != STEADY:
        yield "FALSE: an own tempo", own.slope - 1.0
    if error.startswith("bank reversed"):
        from_s, to_s = flight.loops[min(2, len(flight.loops) - 1)]
        inside = [one for one in wrong if from_s <= one.from_s and one.to_s <= to_s + 1.0]
        yield (
            "reversal: what its mean is off by, deg",
            (inside[0].flown_deg + inside[0].planned_deg if inside else None),
        )
        wrong = tuple(one for one in wrong if one not in inside)
    for one in wrong:
        yield "FALSE: a reversal, s", one.to_s - one.from_s
    for loop in filter(None, loops):
        if error == "rigid":
            yield "stands still", 0.0 if loop.still else None
        elif loop.still:
            yield "FALSE: stands still", 0.0
    if error in ("rigid", "bank reversed in a loop") or error.startswith("tempo"):
        return
    for loop in filter(None, loops):
        yield "loop: nose late, s", None if loop.pitch_lag_s is None else loop.pitch_lag_s - nose
        yield "loop: bank late, s", None if loop.bank_lag_s is None else loop.bank_lag_s - wings
    for place in flight.loops:
        for peak in peaks(motion, ideal, *place):
            late = wings if peak.of == "bank" else nose
            yield f"{peak.what}: late, s", None if peak.late_s is None else peak.late_s - late
            if not error.startswith("bank"):
                yield f"{peak.what}: off, deg", peak.more_deg
            elif peak.of == "bank" and place is flight.loops[0]:
                yield f"{peak.what}: off, deg", peak.more_deg - MORE_DEG
    if all_of_it := whole(motion, ideal, 0.0, flight.length_s):
        lags = ("nose", all_of_it.pitch_lag_s, nose), ("bank", all_of_it.bank_lag_s, wings)
        for of, lag, late in lags:
            yield f"flight: {of} late, s", None if lag is None else lag - late
    most = max(flight.moments, key=lambda one: abs(one.bank_deg))
    for moment in flight.moments:
        there = held(motion, moment.time_s)
        if there is None:
            yield "held", None
            continue
        for of, did, due, late in (
            ("pitch", there.pitch_deg, moment.pitch_deg, nose),
            ("bank", there.bank_deg, moment.bank_deg, wings),
        ):
            shifted = shift(motion, ideal, moment.time_s, (of,))  # type: ignore[arg-type]
            spoiled = error.startswith("bank") and of == "bank"
            if not spoiled:
                yield f"shift of {of}, s", None if shifted is None else shifted - late
            off = did - due
            if spoiled and moment is most:
                yield f"held {of}, deg", off * np.sign(due) - MORE_DEG
            elif not late:
                yield f"held {of}, deg", off
                limit = PLAIN[of]
                if (
                    not (spoiled and abs(moment.time_s - most.time_s) < 4.0)
                    and limit.share(off) > 1
                ):
                    yield f"FALSE: {of} off, deg", off


def main() -> None:
    """Measure and print a table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("maneuvers", nargs="*", default=MANEUVERS)
    parser.add_argument("--seeds", type=int, default=200)
    given = parser.parse_args()
    print(f"{'what was put in, and measured':<44} mean    95 of 100  at worst  told")
    for name in given.maneuvers:
        flight = flight_of(name)
        ideal = planned(flight)
        for error, spoiled in errors(flight).items():
            print(f"{name}, {flight.length_s:.0f} s: {error}")
            found = defaultdict[str, list[float | None]](list)
            for seed in range(given.seeds):
                rate_hz = RATES_HZ[seed % len(RATES_HZ)]
                motion = Simulated(ideal, seed, spoiled, rate_hz=rate_hz).motion()
                for what, off in measured(flight, error, ideal, motion):
                    found[what].append(off)
            for what, offs in sorted(found.items()):
                told = np.array([off for off in offs if off is not None])
                share = f"{len(told):6d} of {len(offs)}"
                if not len(told):
                    print(f"    {what:<38} {'':31} {share}")
                    continue
                figures = told.mean(), np.quantile(np.abs(told), 0.95), np.abs(told).max()
                print(
                    f"    {what:<38} {figures[0]:+7.3f} {figures[1]:9.3f} {figures[2]:9.3f} {share}"
                )


if __name__ == "__main__":
    main()
