"""Promises of the judge of a hand: what was put in is told, first and exactly, and nothing else."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from coach.debrief.debrief import Debrief, debrief
from coach.debrief.gauging import gauged
from coach.debrief.governing import governs
from coach.debrief.loops import table as loops
from coach.debrief.next_run import next_run
from coach.debrief.readiness import readiness
from coach.debrief.words import screen, table
from coach.flight.moment import Moment
from coach.hand.motion import Motion
from coach.logbook.run import Run
from coach.taps.tap import Tap
from tests.debrief.hands import PUT, Side, blank, flown, tried
from tests.debrief.test_debrief import printed
from tests.hand.simulated import Spoiled, late, late_bank, more_bank, rigid

EIGHT = "lazy-eight"


def tapped(run: Run, off: dict[tuple[int, str], float | None] | None = None) -> Run:
    """Every checkpoint tapped on it, but for some that are so much off, or not at all."""
    off = off or {}
    times = [(one.time_s, off.get((one.loop, one.name), 0.0)) for one in run.moments]
    return replace(run, taps=tuple(Tap(at + by) for at, by in times if by is not None))


def moment(loop: int, name: str) -> Moment:
    return next(one for one in blank(EIGHT).moments if (one.loop, one.name) == (loop, name))


def words(judged: Debrief) -> Sequence[str]:
    return [verdict.word for verdict in judged.verdicts]


@pytest.mark.parametrize("what", PUT)
@pytest.mark.parametrize("side", ["right", "left"])
def test_what_was_put_into_a_hand_is_told_first_and_exactly(what: str, side: Side) -> None:
    for seed in (1, 2):
        judged, told = tried(EIGHT, what, seed, side)
        assert told.exactly, (told, judged.largest, judged.next)


@pytest.mark.parametrize("name", ["chandelle", "steep-turn-45"])
def test_a_hand_without_an_error_is_told_to_be_good(name: str) -> None:
    judged, told = tried(name, "nothing", 3)
    assert told.exactly and judged.largest == ()
    assert set(words(judged)) == {"on time"} and judged.score.flown == len(judged.verdicts)


def test_the_words_are_those_of_an_instructor() -> None:
    steep, _ = tried(EIGHT, "bank +11 at one 90", 1)
    assert steep.largest == ("loop 2, 90: you held 41° of bank where 30 belong",)
    assert steep.next.startswith("At 90 you held 41° of bank where 30 belong: say the bank aloud")
    assert (
        "16 of 16 checkpoints flown: 15 on time (within 5° of bank and 3° of pitch), 1 wrong"
        in (steep.plain)
    )
    nose, _ = tried(EIGHT, "nose 1.4 s late in one loop", 1)
    assert nose.largest[0].startswith("loop 2: your nose came 1.4 s late all along")
    other, _ = tried(EIGHT, "bank reversed in loop 3", 1)
    assert other.largest == ("loop 3: banked right where it goes left",)
    assert other.next == (
        "Say the side aloud before each turn: in loop 3 you banked right where it goes left."
    )
    still, _ = tried(EIGHT, "a rigid hand", 1)
    assert still.largest == ("the hand hardly moved",)
    assert still.next.startswith("Fly it with your hand: it hardly moved")
    rushed, _ = tried(EIGHT, "a rusher, 3 %", 1)
    assert rushed.next.startswith("You rush: your tempo is 3 % quicker than the airplane's")


def test_a_hand_that_is_right_does_a_checkpoint_that_was_not_tapped() -> None:
    run = tapped(flown(EIGHT, 1), {(2, "90"): None})
    judged = debrief(run)
    assert words(judged) == ["on time"] * 16 and judged.timing.missed == ()
    assert judged.largest == () and judged.next.startswith("Your hand is good")
    assert "15 of 16 tapped" in judged.plain


def test_a_late_tap_beside_a_hand_that_is_right_is_listed_and_not_held_against_it() -> None:
    run = tapped(flown(EIGHT, 1), {(2, "90"): 1.5})
    judged = debrief(run)
    row = judged.verdicts[5]
    assert (row.word, row.timed) == ("on time", "late") and judged.score.on_time == 16
    assert judged.largest == ("loop 2, 90: tapped 1.5 s late, the hand on time",)
    assert judged.next.startswith("Your hand is where it belongs and your tap is not: at 90")
    assert "90 ok !" in printed(screen(judged)).replace("\xa0", " ")


def test_a_hand_that_is_wrong_is_wrong_though_the_tap_be_on_time() -> None:
    run = tapped(flown(EIGHT, 1, more_bank(moment(2, "90").time_s, 11.0)))
    judged = debrief(run)
    row = judged.verdicts[5]
    assert (row.word, row.timed) == ("wrong", "on time") and judged.score.on_time == 15
    assert judged.largest == ("loop 2, 90: you held 41° of bank where 30 belong",)
    # What was done worse than a tap comes before it.
    late_too = debrief(tapped(run, {(2, "90"): 1.5}))
    assert [one.split(": ")[1][:9] for one in late_too.largest] == ["you held ", "tapped 1."]


def test_a_wrong_number_stays_wrong_beside_a_hand_that_is_right() -> None:
    there = moment(2, "90")
    said = Tap(there.time_s - 2.0, 10.0, "voice", 0.8, "bank")
    judged = debrief(replace(flown(EIGHT, 1), taps=(said,)))
    row = judged.verdicts[5]
    assert row.word == "wrong" and row.flown is not None and row.flown.word == "on time"
    assert judged.next.startswith("Learn the numbers again: at 90 you said bank 10")
    # A question that was not answered is none where the hand answered it.
    assert words(judged).count("on time") == 15


def test_where_the_hand_was_not_seen_the_taps_are_judged_and_nothing_is_missed() -> None:
    at = moment(2, "90").time_s
    gap = flown(EIGHT, 1, gaps=((at - 2.0, at + 2.0),))
    alone = debrief(gap)
    row = alone.verdicts[5]
    assert (row.word, row.flown, row.unheard) == ("not perceived", None, ("the hand was not seen",))
    assert alone.score.checkpoints == 15 and alone.largest == ()
    assert alone.perceived == (
        "1 of 16 not counted: the hand not seen (keep the phone's page open and its screen on)."
    )
    assert alone.next.startswith("Your hand is good")
    by_tap = debrief(tapped(gap, {(2, "90"): 0.9}))
    assert (by_tap.verdicts[5].word, by_tap.score.flown) == ("late", 15)


def test_a_hand_that_is_gone_from_the_second_loop_on_is_judged_until_then() -> None:
    end_s = moment(1, "180").time_s + 1.0
    gone = flown(EIGHT, 1, gaps=((end_s, 1000.0),))
    alone = debrief(gone)
    assert words(alone) == ["on time"] * 4 + ["not perceived"] * 12
    assert alone.next.startswith("Make yourself seen first: only 4 of 16 checkpoints were seen, so")
    assert alone.hand is not None and alone.hand.words == "Seen 25 % of the time."
    with_taps = debrief(tapped(gone, {(3, "90"): 0.9}))
    assert words(with_taps).count("on time") == 15 and with_taps.verdicts[9].word == "late"
    assert with_taps.largest[0].startswith("loop 3, 90: 0.9 s late is")


@pytest.mark.parametrize(
    ("errors", "phone"),
    [
        ((), {"frozen": ((-5.0, 1000.0),)}),  # its sensor stands
        ((rigid(),), {"noise_deg": 0.02}),  # it lies on a table
        ((), {"rate_hz": 4.0}),  # it saves power
    ],
)
def test_a_phone_that_tells_nothing_of_a_hand_holds_nothing_against_anybody(
    errors: tuple[Spoiled, ...], phone: dict[str, Any]
) -> None:
    judged = debrief(flown(EIGHT, 1, *errors, **phone))
    assert set(words(judged)) == {"not perceived"} and judged.hand is None
    assert judged.largest == () and governs(judged.run) is None


def test_at_half_pace_seconds_are_the_students_own() -> None:
    run = flown(EIGHT, 1, late(0.7))
    full, half = debrief(run), debrief(replace(run, pace=0.5))
    assert "came 0.8 s late" in full.largest[0] and "came 1.6 s late" in half.largest[0]
    assert half.plain.startswith("At half pace, 16 of 16 checkpoints flown")


def test_both_at_once_are_two_errors_and_the_larger_comes_first() -> None:
    begin_s, end_s = moment(2, "180").time_s, moment(3, "180").time_s
    errors = (more_bank(moment(2, "90").time_s, 11.0), late_bank(2.0, begin_s, end_s))
    judged = debrief(flown(EIGHT, 1, *errors))
    assert judged.largest[0] == "loop 2, 90: you held 41° of bank where 30 belong"
    assert judged.largest[1].startswith("loop 3: your bank came 2.")


def test_turns_that_are_steeper_to_one_side_are_told_as_that() -> None:
    left = [one for one in blank(EIGHT).moments if one.bank_deg < -1.0]
    judged = debrief(flown(EIGHT, 2, *(more_bank(one.time_s, 9.0, 12.0) for one in left)))
    assert judged.next.startswith("Your left turns are ")
    assert "steeper than your right ones" in judged.next


def test_a_timid_hand_is_told_that_and_not_every_angle() -> None:
    judged = debrief(flown(EIGHT, 2, rigid(0.5)))
    assert judged.next.startswith("Your hand moves too little throughout, about 50 %")


def test_a_hand_counts_more_than_taps_on_tones() -> None:
    by_hand, by_taps = flown(EIGHT, 1), tapped(blank(EIGHT))
    hand, taps = debrief(by_hand).run, debrief(by_taps).run
    assert governs(hand) and hand.score and hand.score.on_time == 16
    assert next_run([hand]).support == "start" and next_run([taps]).support == "tones"
    today = hand.started.date()
    surer, sure = readiness([hand] * 2, today), readiness([taps] * 2, today)
    assert surer.low is not None and sure.low is not None and surer.low > sure.low + 0.1
    # Taps that answer a tone count half, and too many take some away: of a hand neither is true.
    reacting = replace(by_hand, taps=tuple(Tap(one.time_s + 0.2) for one in by_hand.moments))
    assert gauged(reacting).score.on_time == 16


def test_the_debrief_of_a_hand_fits_on_one_small_screen_and_its_tables_too() -> None:
    run = tapped(flown(EIGHT, 1, more_bank(moment(2, "90").time_s, 11.0)))
    judged = debrief(run)
    assert judged.hand is not None
    assert len(printed(screen(judged)).splitlines()) <= 23
    for one in (screen(judged), table(judged), loops(judged.hand)):
        lines = printed(one).splitlines()
        assert max(map(len, lines)) <= 80 and "…" not in "".join(lines)
    assert "41° (30)" in printed(table(judged)) and "+11°" in printed(screen(judged))


def test_programs_read_what_the_hand_did() -> None:
    judged = debrief(flown(EIGHT, 1, more_bank(moment(2, "90").time_s, 11.0)))
    found = json.loads(json.dumps(judged.to_dict(), allow_nan=False))
    there = found["checkpoints"][5]["flown"]
    assert there["bank"]["word"] == "wrong" and there["pitch"]["word"] == "on time"
    assert abs(abs(there["bank"]["deg"]) - 41.0) < 2.0
    assert found["hand"]["seen"] > 0.99 and len(found["hand"]["loops"]) == 4
    assert found["score"]["flown"] == 16
    # A run from before there were hands has nothing of it.
    before = debrief(tapped(blank(EIGHT))).to_dict()
    assert before["hand"] is None and before["checkpoints"][5]["flown"] is None


def test_a_run_without_a_trace_does_not_tell_what_was_to_be_flown() -> None:
    run = replace(flown(EIGHT, 1), trace={})
    assert set(words(debrief(run))) == {"not perceived"}
    assert words(debrief(replace(run, motion=Motion()))) == ["missed"] * 16


@pytest.mark.parametrize(("times_s", "loops_"), [((0.0,), (1,)), ((2.0, 4.0, 6.0), (1, 2, 1))])
def test_a_run_from_elsewhere_is_debriefed_whatever_its_checkpoints_are(
    times_s: Sequence[float], loops_: Sequence[int]
) -> None:
    run = blank(EIGHT)
    moments = [
        replace(one, time_s=at_s, loop=loop)
        for one, at_s, loop in zip(run.moments, times_s, loops_, strict=False)
    ]
    times = tuple(0.05 * step for step in range(400))
    hand = Motion(times, (0.0,) * 400, tuple(0.1 * (step % 7) for step in range(400)))
    judged = debrief(replace(run, moments=tuple(moments), motion=hand, reached_s=20.0), [])
    assert len(judged.verdicts) == len(moments)
