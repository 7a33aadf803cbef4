"""The cue sheet of a whole rehearsal."""

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.callouts.cuesheet import Cue, Measure
from coach.callouts.placement import BREATH_S
from coach.callouts.said import COUNT_FROM
from coach.callouts.sheet import REACTION_S, ROOM_S, TICKS_BEFORE_S, cue_sheet, phrases
from coach.callouts.support import SUPPORTS, Support
from coach.callouts.wording import values
from coach.flight.flight import Flight
from coach.problems import Problem
from coach.script.catalog import maneuver
from coach.script.maneuver import SAYABLE
from tests.callouts.flown import SCRIPTS, flown, spoken, voice

FLOWN = ("lazy-eight", "accelerated-stall", "steep-turn-45", "go-around", "s-turns")


@pytest.fixture(scope="module")
def flight() -> Flight:
    return flown("lazy-eight")


@settings(max_examples=30, deadline=None)
@given(
    name=st.sampled_from(FLOWN),
    support=st.sampled_from([*SUPPORTS]),
    pace=st.floats(0.5, 1.5),
    seconds_per_word=st.floats(0.2, 0.9),
    niner=st.booleans(),
    ticks=st.booleans(),
)
def test_at_every_support_and_pace_nothing_overlaps_and_every_name_lands(
    *, name: str, support: Support, pace: float, seconds_per_word: float, niner: bool, ticks: bool
) -> None:
    flight = flown(name)
    wanted = phrases(flight, support=support, niner=niner)
    measures = {phrase: voice(phrase, seconds_per_word) for phrase in wanted}
    sheet = cue_sheet(flight, measures, support=support, pace=pace, niner=niner, ticks=ticks)
    said = spoken(sheet)
    start = sheet.flight_start_s
    room_s = BREATH_S if SUPPORTS[support].asks else ROOM_S
    for (first, words), (second, _) in itertools.pairwise(said):
        silence = max(first.gap_s, room_s if words.lands else BREATH_S)
        if first.start_s <= start:
            silence = 0.0
        assert first.end_s + silence <= second.start_s + 1e-9
    planned = [start + moment.time_s / pace for moment in flight.moments]
    for cue, phrase in said:
        if phrase.lands:
            assert cue.moment is not None
            lands = cue.start_s + measures[phrase].lands_s
            assert lands == pytest.approx(planned[cue.moment], abs=1e-6)
        if cue.gap_s:
            assert cue.moment is not None
            assert cue.end_s + cue.gap_s <= planned[cue.moment] + 1e-9
    tones = [(cue.start_s, cue.moment) for cue in sheet.cues if cue.tone == "checkpoint"]
    assert tones == (
        [] if support == "start" else [(at, index) for index, at in enumerate(planned)]
    )
    assert {phrase for _, phrase in said} <= set(wanted)
    assert max(cue.end_s for cue in sheet.cues) < sheet.length_s
    assert [cue.start_s for cue in sheet.cues] == sorted(cue.start_s for cue in sheet.cues)


def test_a_tone_sounds_on_every_checkpoint_and_its_name_begins_there(flight: Flight) -> None:
    sheet = cue_sheet(flight, {})
    begun = {round(cue.start_s, 6): phrase.text for cue, phrase in spoken(sheet)}
    for index, moment in enumerate(flight.moments):
        at = sheet.position_s(moment.time_s)
        assert Cue(at, 0.12, tone="checkpoint", moment=index) in sheet.cues
        assert begun[round(at, 6)].startswith(f"{moment.name}.")


def test_the_student_is_counted_in_second_by_second_at_any_pace(flight: Flight) -> None:
    for pace in (0.5, 1.0, 1.5):
        sheet = cue_sheet(flight, {}, pace=pace)
        counted = [cue for cue, phrase in spoken(sheet) if phrase.text in "321"]
        places = [sheet.flight_start_s - cue.start_s for cue in counted]
        assert places == pytest.approx(list(range(COUNT_FROM, 0, -1)))
        starts = [cue.start_s for cue in sheet.cues if cue.tone == "start"]
        assert starts == [sheet.flight_start_s]


def test_pitch_bank_rudder_and_speed_are_called_in_every_loop(flight: Flight) -> None:
    sheet = cue_sheet(flight, {})
    seams = [0.0] + [one.time_s for one in flight.moments if one.name == "180"]
    for begin, end in itertools.pairwise(seams):
        said = " ".join(
            phrase.text.lower()
            for cue, phrase in spoken(sheet)
            if begin <= sheet.flight_s(cue.start_s) < end
        )
        for word in ("pitch", "bank", "rudder", "kt", "reference"):
            assert word in said


def test_which_way_the_next_loop_goes_is_said_and_nothing_is_begun_at_the_end() -> None:
    for loops in (1, 2, 4, 5):
        said = [phrase.text for _, phrase in spoken(cue_sheet(flown("lazy-eight", loops), {}))]
        at_180 = [text for text in said if text.startswith("180.")]
        begun = ["Then left", "Again left", "Then right", "Again right"]
        for text, words in zip(at_180, [*begun[: loops - 1], "Wings level"], strict=True):
            assert words in text


def test_what_leads_to_an_action_is_over_in_time_for_the_hand() -> None:
    for name in ("lazy-eight", "slow-flight", "holding-pattern", "steep-turn-45"):
        for pace in (0.5, 1.0, 1.5):
            flight = flown(name)
            sheet = cue_sheet(flight, {}, pace=pace)
            for callout in flight.maneuver.callouts:
                when = flight.when(callout.at, 1)
                if callout.lead and when is not None:
                    known = values(flight, flight.moment(when, 1, callout.at.checkpoint or ""))
                    texts = {one.format(**{k: v.text for k, v in known.items()}).lower()
                             for one in callout.say}  # fmt: skip
                    at = sheet.position_s(when)
                    near = [
                        cue
                        for cue, phrase in spoken(sheet)
                        if phrase.text.lower() in texts and abs(cue.start_s - at) < 10.0
                    ]
                    assert all(cue.end_s + REACTION_S <= at + 1e-9 for cue in near)


def test_every_word_a_script_may_name_has_a_value_and_no_other(flight: Flight) -> None:
    assert set(values(flight, flight.moments[0])) == set(SAYABLE)


@pytest.mark.parametrize("name", SCRIPTS)
def test_every_checkpoint_of_every_loop_is_named_the_last_one_s_too(name: str) -> None:
    script = maneuver(name)
    for checkpoint in script.checkpoints:
        called = [
            callout
            for callout in script.callouts
            if callout.kind == "checkpoint" and callout.at.checkpoint == checkpoint.name
        ]
        for loop in (*range(1, len(script.sides) + 1), "last"):
            assert sum(not one.loops or loop in one.loops for one in called) == 1, loop
        assert all("{name}" in say for callout in called for say in callout.say)


def test_a_slow_voice_drops_callouts_and_every_one_is_listed(flight: Flight) -> None:
    slow = {phrase: Measure(6.0) for phrase in phrases(flight)}
    sheet = cue_sheet(flight, slow)
    said = [cue for cue, _ in spoken(sheet) if cue.start_s > sheet.flight_start_s]
    wanted = sum(
        callout.loops is None or ("last" if loop == 4 else loop) in callout.loops
        for loop in range(1, 5)
        for callout in flight.maneuver.callouts
    )
    assert sheet.dropped
    assert len(said) + len(sheet.dropped) == wanted
    assert all(sentence.startswith("loop ") for sentence in sheet.dropped)


def test_three_ticks_lead_to_a_checkpoint_unless_something_else_is_that_close() -> None:
    for name in FLOWN:
        flight = flown(name)
        sheet = cue_sheet(flight, {}, pace=1.5)
        times = [sheet.position_s(moment.time_s) for moment in flight.moments]
        for index, (before, time) in enumerate(itertools.pairwise([sheet.flight_start_s, *times])):
            ticks = [
                cue.start_s - time
                for cue in sheet.cues
                if cue.tone == "tick" and cue.moment == index
            ]
            far = time - before >= 2.0
            assert ticks == pytest.approx([-lead for lead in TICKS_BEFORE_S] if far else [])


def test_two_checkpoints_at_one_time_have_a_tone_each_and_one_is_named(flight: Flight) -> None:
    script = flight.maneuver
    twin = script.checkpoints[1].model_copy(update={"name": "twin"})
    doubled = script.model_copy(update={"checkpoints": (*script.checkpoints, twin)})
    sheet = cue_sheet(replace(flight, maneuver=doubled), {}, support="asking")
    at = sheet.position_s(flight.moments[1].time_s)
    assert [cue.moment for cue in sheet.cues if cue.start_s == at and cue.tone] == [1, 2]
    assert [cue.moment for cue, _ in spoken(sheet) if cue.start_s == at] == [1]
    assert [cue.moment for cue in sheet.cues if cue.tone == "tick"].count(2) == 0
    assert "loop 1, twin: no room for “Twin.”" in sheet.dropped


def test_a_slow_pace_stretches_the_flight_and_leaves_speech_as_it_is(flight: Flight) -> None:
    usual, slow = cue_sheet(flight, {}), cue_sheet(flight, {}, pace=0.5)
    assert slow.flight_start_s == usual.flight_start_s
    assert slow.pace == 0.5
    for moment in flight.moments:
        assert slow.position_s(moment.time_s) == slow.flight_start_s + 2.0 * moment.time_s
    lengths = {phrase: cue.length_s for cue, phrase in spoken(usual)}
    for cue, phrase in spoken(slow):
        assert lengths.get(phrase, cue.length_s) == cue.length_s


@pytest.mark.parametrize("pace", [0.49, 1.51, -1.0, float("nan")])
def test_a_pace_out_of_bounds_is_one_sentence(flight: Flight, pace: float) -> None:
    with pytest.raises(Problem, match=r"^Found a pace of .*, expected 0\.5 to 1\.5\.$"):
        cue_sheet(flight, {}, pace=pace)
