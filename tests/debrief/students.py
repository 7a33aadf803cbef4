"""A typical lazy eight, invented, and students who tap along with it."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timezone

from coach.debrief.gauging import score
from coach.flight.moment import Moment
from coach.logbook.run import LoggedRun, Run
from coach.taps.tap import Tap

LOOP_S = 33.0
POINTS = (
    ("45", 10.5, 3.0, 82.0),
    ("90", 16.8, 8.0, 60.0),
    ("135", 23.0, 7.0, 80.0),
    ("180", 33.0, 2.0, 100.0),
)
BANKS = {"45": 15.0, "90": 30.0, "135": 15.0, "180": 0.0}


def _moments() -> tuple[Moment, ...]:
    return tuple(
        Moment(
            loop=loop,
            name=name,
            time_s=LOOP_S * (loop - 1) + time_s,
            turned_deg=float(name),
            heading_deg=float(name) % 360.0,
            pitch_deg=0.0,
            bank_deg=BANKS[name] * _side(loop),
            ias_kt=speed,
            altitude_ft=3000.0,
            turn_rate_dps=rate * _side(loop),
            load_factor=1.1,
            stall_margin_kt=10.0,
            rudder=0.3,
            asks=("bank", "speed"),
        )
        for loop in (1, 2, 3, 4)
        for name, time_s, rate, speed in POINTS
    )


def _side(loop: int) -> int:
    return 1 if loop in (1, 4) else -1


def _between(t_s: float, values: Sequence[float]) -> float:
    """A smooth passage through the values at 0 and at each point of a loop."""
    times = [0.0, *(time_s for _, time_s, _, _ in POINTS)]
    after = next(index for index in range(1, len(times)) if t_s <= times[index])
    share = (t_s - times[after - 1]) / (times[after] - times[after - 1])
    return values[after - 1] + (values[after] - values[after - 1]) * (
        0.5 - 0.5 * math.cos(math.pi * share)
    )


def _trace() -> dict[str, list[float]]:
    times = [tick / 2 for tick in range(int(8 * LOOP_S) + 1)]
    within = [time % LOOP_S for time in times]
    sides = [_side(min(4, int(time // LOOP_S) + 1)) for time in times]
    banks = (0.0, *BANKS.values())
    return {
        "t_s": times,
        "ias_kt": [_between(t, (100.0, *(speed for *_, speed in POINTS))) for t in within],
        "altitude_ft": [_between(t, (3000.0, 3250.0, 3400.0, 3250.0, 3000.0)) for t in within],
        "bank_deg": [side * _between(t, banks) for side, t in zip(sides, within, strict=True)],
        "pitch_deg": [_between(t, (0.0, 14.0, 0.0, -11.0, 0.0)) for t in within],
    }


MOMENTS = _moments()
PLANNED = [moment.time_s for moment in MOMENTS]
RUN = Run(
    id=12,
    maneuver="lazy-eight",
    title="Lazy eight",
    airplane="Meadow Four",
    started=datetime(2031, 5, 4, 7, 30, tzinfo=timezone.utc),
    moments=MOMENTS,
    trace=_trace(),
    ended="finished",
    reached_s=PLANNED[-1],
)


def flown(taps_s: Sequence[float], pace: float = 1.0, support: str = "") -> Run:
    """The whole maneuver, finished, with these taps on the flight's clock."""
    return replace(RUN, taps=tuple(map(Tap, taps_s)), pace=pace, support=support)


def answering(*given: float, at: int, seed: int = 1) -> Run:
    """A perfect run in which these numbers are typed at one checkpoint of every loop."""
    typed = [
        Tap(moment.time_s - 0.4 + 0.2 * place, value)
        for moment in MOMENTS[at::4]
        for place, value in enumerate(given)
    ]
    return replace(RUN, taps=(*map(Tap, perfect(seed)), *typed))


def summary(run: Run) -> LoggedRun:
    """The run as a line of the logbook."""
    return LoggedRun(run.id or 0, run.started, run.pace, run.support, run.ended, score(run))


def perfect(seed: int) -> list[float]:
    return _human(PLANNED, seed)


def rusher(seed: int) -> list[float]:
    return _human([0.97 * at for at in PLANNED], seed)


def dragger(seed: int) -> list[float]:
    return _human([1.025 * at for at in PLANNED], seed)


def forgets_the_third(seed: int) -> list[float]:
    return _human([at for index, at in enumerate(PLANNED) if index % 4 != 2], seed)


def constantly_late(seed: int) -> list[float]:
    return _human([at + 0.3 for at in PLANNED], seed)


def constantly_early(seed: int) -> list[float]:
    return _human([at - 0.3 for at in PLANNED], seed)


def at_random(seed: int) -> list[float]:
    chance = random.Random(seed)
    return sorted(chance.uniform(0.0, PLANNED[-1]) for _ in PLANNED)


def silent(_: int) -> list[float]:
    return []


def late_at_90(seed: int) -> list[float]:
    return _human([at + (0.9 if index % 4 == 1 else 0.0) for index, at in enumerate(PLANNED)], seed)


def _human(times: Sequence[float], seed: int) -> list[float]:
    """A tenth of a second of spread, a few hundredths early."""
    chance = random.Random(seed)
    return [time + chance.gauss(-0.03, 0.1) for time in times]


TAPPING = {
    "perfect": perfect,
    "rusher": rusher,
    "dragger": dragger,
    "forgets the third": forgets_the_third,
    "constantly late": constantly_late,
    "constantly early": constantly_early,
    "late at 90": late_at_90,
    "at random": at_random,
}
