"""Promises of the judge: errors are ranked by what they are against the student's standard."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.debrief.debrief import debrief
from coach.debrief.gauging import REACTION_S, gauged, score
from coach.debrief.largest import AT_THE_LIMIT, MISSED, errors
from coach.debrief.limits import LONGEST_S, ON_TIME_S
from coach.debrief.words import screen
from coach.logbook.run import HEADING, Run
from coach.script.catalog import maneuver
from coach.script.standards import tolerances
from coach.script.tolerance import Tolerance
from coach.taps.tap import Tap
from tests.debrief.students import MOMENTS, PLANNED, RUN, answering, flown, perfect
from tests.debrief.test_debrief import printed
from tests.debrief.test_said import answered, every, named

COMMERCIAL = tolerances(maneuver("lazy-eight").standard, "commercial")


def tapped(*off: tuple[int, float], run: Run = RUN, limits: tuple[Tolerance, ...] = ()) -> Run:
    """Every checkpoint tapped on it, but for some that are so many seconds off."""
    errors_s = dict(off)
    taps = tuple(Tap(at + errors_s.get(index, 0.0)) for index, at in enumerate(PLANNED))
    return replace(run, taps=taps, tolerances=limits)


def test_an_error_of_degrees_comes_before_a_longer_one_of_none() -> None:
    # At 90 it turns 8 degrees a second, at 180 only 2: seconds alone would have it the other way.
    judged = debrief(tapped((1, 0.7), (3, -2.0)))
    assert judged.largest == (
        "loop 1, 90: 0.7 s late is 6° of heading and 1 kt",
        "loop 1, 180: 2.0 s early is 4° of heading, 2 kt and 20 ft",
    )
    # What is as good as nothing in the airplane is not spoken of, nor is it the one thing to do.
    slip = debrief(tapped((3, -0.9)))
    assert slip.largest == () and slip.next.startswith("Your timing is good")


def test_how_large_an_error_is_is_its_largest_share_of_a_limit() -> None:
    # 1 kt, 8 degrees and 40 ft: by plain limits of 10 kt, 10 degrees and 100 ft.
    row = debrief(tapped((1, 1.0))).verdicts[1]
    assert row.heading_deg == pytest.approx(8.0)
    assert row.share == pytest.approx(0.8)
    # Where a limit of 2 ft holds, its altitude is what is most out of bounds.
    close = (Tolerance("altitude", 2.0, 2.0, ("90",)),)
    tight = debrief(tapped((1, 1.0), limits=close)).verdicts[1]
    assert tight.share == pytest.approx(abs(tight.altitude_ft or 0.0) / 2.0)
    elsewhere = (Tolerance("altitude", 2.0, 2.0, ("180",)),)
    assert debrief(tapped((1, 1.0), limits=elsewhere)).verdicts[1].share == row.share


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 15), st.floats(-1.5, 1.5)), max_size=5),
    st.sampled_from([(), COMMERCIAL]),
)
def test_the_first_of_the_largest_errors_has_the_largest_share_of_its_limit(
    off: list[tuple[int, float]], limits: tuple[Tolerance, ...]
) -> None:
    found = gauged(tapped(*off, limits=limits))
    shares = [row.share or 0.0 for row in found.verdicts if row.word in ("early", "late")]
    ranked = [error.share for error in errors(found.verdicts)]
    assert ranked == sorted(shares, reverse=True)


def test_a_band_that_is_all_to_one_side_is_left_at_once_to_the_other() -> None:
    # +10 -0 kt: five too fast is half of what is allowed, one too slow is over it.
    band = Tolerance("speed", 0.0, 10.0)
    assert (band.share(0.0), band.share(5.0), band.share(10.0)) == (0.0, 0.5, 1.0)
    assert band.share(-1.0) == pytest.approx(1.2)
    assert band.share(15.0) == pytest.approx(2.0)
    assert band.words == "+10 −0 kt"
    assert Tolerance("heading", 10.0, 10.0).words == "10° of heading"


def test_at_180_on_time_is_within_the_commercial_limits_and_at_most_a_second() -> None:
    # FAA-S-ACS-7, task V.D: altitude within 100 ft, speed 10 kt, heading 10 degrees at each 180.
    within = tapped((3, -0.9), (1, -0.9), limits=COMMERCIAL)
    rows = debrief(within).verdicts
    # At 90 the standard has no limit, so that seconds decide.
    assert (rows[1].word, rows[3].word) == ("early", "on time")
    assert debrief(replace(within, tolerances=())).verdicts[3].word == "early"
    far = tapped((3, -LONGEST_S - 0.1), limits=COMMERCIAL)
    assert debrief(far).verdicts[3].word == "early"
    tight = (*COMMERCIAL[:2], Tolerance("heading", 1.0, 1.0, ("180",)))
    assert debrief(replace(within, tolerances=tight)).verdicts[3].word == "early"
    assert (
        "on time (within 0.25 s; at 180 within 1 s, 10° of heading, 10 kt and 100 ft), 1 early"
        in debrief(within).plain
    )


def test_by_a_standard_that_leaves_altitude_open_seconds_decide() -> None:
    open_ = tuple(one for one in COMMERCIAL if one.of != "altitude")
    judged = debrief(tapped((3, -0.9), limits=open_))
    assert judged.verdicts[3].word == "early" and "at 180" not in judged.plain


def test_a_quarter_of_a_second_is_on_time_whatever_the_limits() -> None:
    tight = tuple(Tolerance(of, 1e-6, 1e-6) for of in ("heading", "speed", "altitude"))
    off = 0.9 * ON_TIME_S
    assert debrief(tapped((1, off), limits=tight)).verdicts[1].word == "on time"


def test_the_heading_is_read_off_the_flight_where_the_run_has_kept_it() -> None:
    # Rolled out at 10 s from 9 degrees a second: straight on after it, turning before.
    times = [tick / 2 for tick in range(41)]
    flat = [0.0 for _ in times]
    trace = {
        "t_s": times,
        "ias_kt": [90.0 for _ in times],
        "altitude_ft": flat,
        "bank_deg": flat,
        "pitch_deg": flat,
        HEADING: [9.0 * min(time, 10.0) + 300.0 for time in times],
    }
    rolled_out = replace(MOMENTS[0], time_s=10.0, turn_rate_dps=0.0)
    run = replace(RUN, moments=(rolled_out,), trace=trace, reached_s=20.0)
    early, late = (debrief(replace(run, taps=(Tap(at),))).verdicts[0] for at in (9.0, 11.0))
    assert early.heading_deg == pytest.approx(-9.0)
    assert late.heading_deg == pytest.approx(0.0)


def test_a_missed_checkpoint_is_behind_an_error_of_three_limits_and_before_one_within() -> None:
    # 4 s before 90 it is 32 degrees short of it.
    run = tapped((1, -3.8), (5, 0.5))
    judged = debrief(replace(run, taps=run.taps[:10] + run.taps[11:]))
    assert [error.kind for error in errors(judged.verdicts)] == ["tap", "missed", "tap"]
    assert errors(judged.verdicts)[0].share > 3.0 > MISSED


def test_a_wrong_number_weighs_by_how_far_off_it_is() -> None:
    # Bank 30 where 15 belongs is three times its 5 degrees, speed 68 where 60 within its 10 kt.
    run = every(
        {
            1: answered(1, values={"bank": 30.0, "speed": 68.0}),
            4: answered(4, values={"bank": 30.0, "speed": 82.0}),
            7: answered(7, 4.4),
        }
    )
    found = errors(debrief(run).verdicts)
    assert [error.words for error in found] == [
        "loop 2, 45: bank 30 where 15 belongs",
        "loop 2, 180: answered late",
        "loop 1, 90: speed 68 where 60 belongs",
    ]
    assert [error.share for error in found] == [pytest.approx(3.0), AT_THE_LIMIT, 0.8]
    strict = (Tolerance("speed", 2.0, 2.0, ("90",)),)
    assert errors(debrief(replace(run, tolerances=strict)).verdicts)[0].name == "90"


def test_the_one_thing_to_work_on_is_the_largest_error_by_the_standard() -> None:
    every_180 = [(index, 0.9) for index in (3, 7, 11, 15)]
    every_90 = [(index, -0.6) for index in (1, 5, 9, 13)]
    advice = debrief(tapped(*every_180, *every_90)).next
    assert advice.startswith("Work on the leg to 90: you are 0.6 s early there on average, at ")
    # A single slip is told as that, and a wrong number that is further off before it.
    slip = tapped((1, 1.5))
    assert debrief(slip).next == (
        "Work on the leg to 90: in loop 1 you were 1.5 s late there, which is 12° of heading, 3 kt "
        "and 20 ft, so say its name one breath sooner."
    )
    both = replace(slip, taps=(*slip.taps, Tap(PLANNED[4] - 0.4, 45.0)))
    assert debrief(both).next.startswith("Learn the numbers again: at 45 you said bank 45 where 15")


def test_a_habit_is_the_one_thing_only_where_the_largest_error_comes_of_it() -> None:
    late = [(index, 0.3) for index in range(16)]
    assert debrief(tapped(*late)).next.startswith("You are 0.3 s late on the whole")
    # 3.5 s before 90 it is 28 degrees short of it, and no bias makes that.
    assert debrief(tapped(*late, (5, -3.5))).next.startswith("Work on the leg to 90: in loop 2 you")
    run = tapped(*late)
    missing = replace(run, taps=run.taps[:5] + run.taps[6:])
    assert debrief(missing).next.startswith("Do not forget 90 (missed 1 of 4 times)")
    wrong = replace(run, taps=(*run.taps, Tap(PLANNED[4] - 0.4, 45.0)))
    assert debrief(wrong).next.startswith("Learn the numbers again: at 45 you said bank 45 where")
    # A bias within what is on time, and an own tempo that adds up to nothing, are no advice.
    assert debrief(tapped(*((index, 0.2) for index in range(16)))).next.startswith("Your timing is")


def test_four_checkpoints_are_enough_for_an_error_by_the_standard() -> None:
    loop = replace(RUN, moments=MOMENTS[:4], reached_s=PLANNED[3])
    at = PLANNED[:4]
    told = debrief(replace(loop, taps=tuple(map(Tap, at[:2] + at[3:])))).next
    assert told.startswith("Do not forget 135 (missed): say its name aloud")
    two = debrief(replace(loop, taps=(Tap(at[0]), Tap(at[3] - 3.9))))
    assert two.next.startswith("Do not forget 90 and 135 (missed): say their names aloud")
    one = debrief(replace(loop, taps=(Tap(at[0]),)))
    assert one.next == "Tap every checkpoint: 1 of 4 was tapped (within 4 s)."
    off = debrief(replace(loop, taps=tuple(map(Tap, (at[0], at[1] + 1.5, at[2], at[3])))))
    assert off.next.startswith("Work on the leg to 90: you were 1.5 s late there, which is 12° of")


def test_taps_that_mean_nothing_in_the_airplane_follow_the_maneuver_however_scattered() -> None:
    slow = [replace(one, turn_rate_dps=0.2) for one in MOMENTS]
    still = {name: [row[0] for _ in row] for name, row in RUN.trace.items()} | {
        "t_s": RUN.trace["t_s"]
    }
    run = tapped(*((index, (-1) ** index * 1.8) for index in range(16)))
    assert debrief(run).next.startswith("Your taps do not follow the maneuver yet")
    judged = debrief(replace(run, moments=tuple(slow), trace=still))
    assert judged.largest == ()
    assert judged.verdicts[1].meaning == "1.8 s early"
    assert judged.next == (
        "You stay well within the limits, so now come closer to the moment: at 180 you were 1.8 s "
        "early."
    )


def test_who_hammers_the_key_is_told_to_tap_only_where_a_checkpoint_is() -> None:
    hammering = sorted({*PLANNED, *(0.5 + tick for tick in range(0, 132, 3))})
    assert debrief(flown(hammering)).next.startswith("Tap only where a checkpoint is: 44 taps")


def test_a_tap_right_on_time_with_a_wrong_number_is_wrong() -> None:
    run = answering(20, at=1)
    assert [row.word for row in debrief(run).verdicts[:3]] == ["on time", "wrong", "on time"]
    assert score(run).on_time == 12 and score(run).tapped == 16


def test_a_name_out_of_order_is_the_one_thing_where_all_else_is_good() -> None:
    taps = tuple(named(index, "135" if index == 1 else "") for index in range(16))
    assert debrief(replace(RUN, taps=taps)).next == (
        "Learn the order again: at 90 you said “135”, so say the checkpoints' names aloud, one "
        "after the other, before you fly."
    )


def test_taps_that_may_answer_the_tone_weigh_half_and_that_is_said_once() -> None:
    # Simple reactions to a sound take 0.14 to 0.2 s (Woodworth and Schlosberg, from memory).
    reacting = [at + 0.2 for at in PLANNED]
    assert score(flown(reacting, support="tones")).on_time == 8
    assert score(flown(reacting, support="start")).on_time == 16
    judged = debrief(flown(reacting, support="tones"))
    assert {row.word for row in judged.verdicts} == {"on time"}
    words = " ".join(printed(screen(judged)).split())
    assert words.count("16 came 0.15 s after it or later, as reactions do: 2 count as 1.") == 1
    # Who taps with the tone, or knows that it comes, loses nothing.
    along = [at + 0.9 * REACTION_S for at in PLANNED]
    assert score(flown(along, support="tones")).on_time == 16
    assert debrief(flown(perfect(1), support="tones")).tones == ""
