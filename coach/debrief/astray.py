"""The errors of a hand: what it held, when that came, to which side, and whether it flew at all."""

from __future__ import annotations

import statistics
from collections.abc import Iterator, Sequence

from coach.debrief.attitudes import held, moves, remedy
from coach.debrief.error import Error, often
from coach.debrief.flown import Angle
from coach.debrief.habits import tempo_words
from coach.debrief.hand import Hand
from coach.debrief.limits import PLAIN
from coach.debrief.verdict import Verdict, by_name
from coach.hand.measured import AXES, Axis
from coach.hand.tempo import STEADY
from coach.words import listed, numbered, side_of

STILL = 100.0
"""A hand that does not fly at all weighs more than whatever else is off (a guess of ours)."""

LATE_S = 0.5
"""A hand that follows a voice does so by two or three tenths (common practice, no source), and a
phone's clock adds to that: by so much more than them, all along a loop, it is told as late, though
it be within the limits everywhere."""

Angles = list[tuple[Verdict, Angle]]


def astray(verdicts: Sequence[Verdict], hand: Hand | None) -> Iterator[Error]:
    """Every error of the hand; the same one at a checkpoint in several loops is one.

    Args:
        verdicts: of a run.
        hand: what it did in all of it: of one that hardly moved nothing else is said.
    """
    flown = [verdict for verdict in verdicts if verdict.flown]
    several = len({verdict.loop for verdict in verdicts}) > 1
    if not flown or hand is None:
        return
    if hand.still:
        yield _still(flown)
        return
    turned = [verdict for verdict in flown if _bank(verdict).is_turned]
    if turned:
        yield from _turned(turned, flown, several=several)
    yield from _between(flown, hand, several=several)
    if hand.tempo != STEADY:
        yield _tempo(flown, hand)
    else:
        for of in AXES:
            yield from _all_along(flown, hand, of, several=several)
    for some in by_name(flown).values():
        for kinds in _alike(some).values():
            yield _error(kinds, several=several)


def _still(flown: Sequence[Verdict]) -> Error:
    what = "the hand hardly moved"
    do = (
        "Fly it with your hand: it hardly moved, so bank the model and raise and lower its nose as "
        "the airplane does, and say each bank as you reach it."
    )
    return Error("still", STILL, tuple(flown), what, what, do)


def _tempo(flown: Sequence[Verdict], hand: Hand) -> Error:
    """A hand whose time runs away from the airplane's, or drags."""
    off = hand.tempo.slope - 1.0
    end_s = hand.tempo.late_s(flown[-1].flight_s) / hand.pace
    what = (
        f"your tempo {100.0 * abs(off):.0f} % too {'slow' if off > 0.0 else 'quick'}, "
        f"{abs(end_s):.1f} s {'late' if end_s > 0.0 else 'early'} by the last checkpoint"
    )
    wrong = [one for one in flown if one.flown and one.flown.word != "on time"] or flown[-1:]
    shares = [one.flown.share for one in flown if one.flown]
    words = tempo_words(hand.tempo.slope)
    return Error("came", max(shares), tuple(wrong), what, what, words, end_s)


def _all_along(flown: Sequence[Verdict], hand: Hand, of: Axis, *, several: bool) -> Iterator[Error]:
    """Late or early in the whole of a loop, whether within the limits at its checkpoints or not."""
    there = [
        (one, angle)
        for one in flown
        for angle in (one.flown.angles if one.flown else ())
        if angle.of == of
    ]
    beyond = {one.loop for one, angle in there if angle.lasting}
    for sign in (1.0, -1.0):
        lags = {
            loop.loop: lag / hand.pace
            for loop in hand.loops
            if (lag := loop.lag_s(of)) is not None
            and sign * lag > (0.0 if loop.loop in beyond else LATE_S * hand.pace)
        }
        found = [pair for pair in there if pair[0].loop in lags]
        wrong = [pair for pair in found if pair[1].lasting]
        if not found:
            continue
        worst, angle = max(wrong or found, key=lambda pair: pair[1].share)
        late_s = statistics.fmean(lags.values())
        who, what = ("nose", "pitch") if of == "pitch" else ("bank", "bank")
        came = f"your {who} came {abs(late_s):.1f} s {'late' if late_s > 0.0 else 'early'}"
        was = "it was" if of == "pitch" else "you held"
        turned = round(abs((worst.flown and worst.flown.heading_deg) or 0.0))
        heading = f" ({turned}° of heading at {worst.name})" if turned else ""
        so = f"{heading}, so that at {worst.name} {was} {held([angle])}" if angle.lasting else ""
        loops = numbered("loop", [*lags]) if several else ""
        where = f" in {loops}" if several else ""
        when = "a breath sooner" if late_s > 0.0 else "a breath later"
        yield Error(
            "came",
            angle.share,
            tuple(one for one, _ in wrong) or (worst,),
            f"{came} all along{so}",
            f"{f'{loops}: ' if several else ''}{came} all along{so}",
            f"Begin each change of {what} {when}: {came}{where}{so}.",
            late_s,
        )


def _turned(
    turned: Sequence[Verdict], flown: Sequence[Verdict], *, several: bool
) -> Iterator[Error]:
    """Banked to the other side: loop by loop, or in all of them at once."""
    loops = {
        loop: [one for one in turned if one.loop == loop]
        for loop in dict.fromkeys(one.loop for one in turned)
    }
    banked = {one.loop for one in flown if abs(_bank(one).belongs_deg) > 0.0}
    if len(loops) > 1 and set(loops) == banked:
        what = "banked to the other side in every loop"
        do = f"Turn the other way: you {what}, so say the first side aloud before you begin."
        yield Error("turned", max(map(_share, turned)), tuple(turned), what, what, do)
        return
    for loop, some in loops.items():
        first = _bank(some[0])
        sides = f"{side_of(first.deg)} where it goes {side_of(first.belongs_deg)}"
        where = f"loop {loop}, " if several else ""
        there = "" if len(some) > 1 else f"{some[0].name}, "
        at = f"in loop {loop} " if several else f"at {listed([one.name for one in some])} "
        yield Error(
            "turned",
            max(map(_share, some)),
            tuple(some),
            f"banked {sides}",
            f"{f'{where}{there}'.removesuffix(', ')}: banked {sides}",
            f"Say the side aloud before each turn: {at}you banked {sides}.",
        )


def _between(flown: Sequence[Verdict], hand: Hand, *, several: bool) -> Iterator[Error]:
    """Banked to the other side where there is no checkpoint to tell of it."""
    for one in hand.reversals:
        there = [verdict for verdict in flown if one.from_s <= verdict.flight_s <= one.to_s]
        if one.of != "bank" or any(_bank(verdict).is_turned for verdict in there):
            continue
        after = [verdict for verdict in flown if verdict.flight_s >= one.from_s] or flown[-1:]
        verdict = after[0]
        sides = f"{side_of(one.flown_deg)} where it goes {side_of(one.planned_deg)}"
        long = f"{(one.to_s - one.from_s) / hand.pace:.0f} s long"
        loop = f"loop {verdict.loop}, " if several else ""
        yield Error(
            "turned",
            PLAIN["bank"].share(one.flown_deg - one.planned_deg),
            (verdict,),
            f"banked {sides}, {long}",
            f"{loop}on the way to {verdict.name}: banked {sides}, {long}",
            f"Say the side aloud before each turn: before {verdict.name} you banked {sides}.",
        )


def _alike(some: Sequence[Verdict]) -> dict[tuple[str, str, bool], Angles]:
    """What is off at one checkpoint: by which angle, in which way, and to which side."""
    found: dict[tuple[str, str, bool], Angles] = {}
    for verdict in some:
        for angle in verdict.flown.angles if verdict.flown else ():
            if angle.word != "on time" and not angle.is_turned and not angle.lasting:
                above = (angle.late_s or 0.0) > 0.0 if _came(angle) else angle.off_deg > 0.0
                way = "came" if _came(angle) else "held"
                found.setdefault((angle.of, way, above), []).append((verdict, angle))
    return found


def _error(wrong: Angles, *, several: bool) -> Error:
    """Of one checkpoint and angle, in one way."""
    verdicts = tuple(verdict for verdict, _ in wrong)
    angles = [angle for _, angle in wrong]
    loops = f"{numbered('loop', [one.loop for one in verdicts])}, " if several else ""
    name, times = verdicts[0].name, often(len(verdicts))
    share = max(angle.share for angle in angles)
    if _came(angles[0]):
        late_s = statistics.fmean(angle.late_s or 0.0 for angle in angles)
        headings = [abs(one.flown.heading_deg or 0.0) for one in verdicts if one.flown]
        turned = round(statistics.fmean(headings))
        heading = f" ({turned}° of heading)" if turned else ""
        when = "late" if late_s > 0.0 else "early"
        came, begin = moves(angles[0])
        off = f"{came} {abs(late_s):.1f} s{heading} {when}"
        what = f"{off}: {held(angles)}"
        sooner = "sooner" if late_s > 0.0 else "later"
        do = f"{begin} {sooner} on the way to {name}: {off}{times}."
        return Error("came", share, verdicts, what, f"{loops}{name}: {what}", do, late_s)
    what = f"{'your nose was' if angles[0].of == 'pitch' else 'you held'} {held(angles)}"
    do = f"At {name} {what}{times}: {remedy(angles[0])}."
    return Error(angles[0].of, share, verdicts, what, f"{loops}{name}: {what}", do)


def _came(angle: Angle) -> bool:
    return angle.word in ("early", "late")


def _bank(verdict: Verdict) -> Angle:
    assert verdict.flown is not None
    return verdict.flown.bank


def _share(verdict: Verdict) -> float:
    return _bank(verdict).share
