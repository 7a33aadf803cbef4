"""The cue sheet of a whole rehearsal."""

import itertools

import pytest

from coach.callouts.sheet import COUNT_FROM, cue_sheet, phrases
from coach.callouts.wording import values
from coach.flight.airplane import load
from coach.flight.day import Day, conditions
from coach.flight.flight import Flight
from coach.flight.plan import plan
from coach.script.catalog import maneuver
from coach.script.maneuver import SAYABLE


@pytest.fixture(scope="module")
def flight() -> Flight:
    script, plane = maneuver("lazy-eight"), load("meadow-four")
    return plan(script, plane, conditions(Day(), script, plane))


def test_phrases_never_overlap(flight: Flight) -> None:
    spoken = [cue for cue in cue_sheet(flight, {}).cues if cue.phrase]
    for first, second in itertools.pairwise(spoken):
        assert first.end_s < second.start_s


def test_a_tone_sounds_on_every_checkpoint_and_its_name_begins_there(flight: Flight) -> None:
    sheet = cue_sheet(flight, {})
    tones = [cue.start_s for cue in sheet.cues if cue.tone == "checkpoint"]
    planned = [sheet.flight_start_s + moment.time_s for moment in flight.moments]
    assert tones == pytest.approx(planned)
    starts = {round(cue.start_s, 6): cue.phrase.text for cue in sheet.cues if cue.phrase}
    for moment, time in zip(flight.moments, planned, strict=True):
        assert starts[round(time, 6)].startswith(f"{moment.name}.")


def test_the_student_is_counted_in_second_by_second(flight: Flight) -> None:
    sheet = cue_sheet(flight, {})
    counted = [cue for cue in sheet.cues if cue.phrase and cue.phrase.text in "321"]
    places = [sheet.flight_start_s - cue.start_s for cue in counted]
    assert places == pytest.approx(list(range(COUNT_FROM, 0, -1)))
    assert [cue.start_s for cue in sheet.cues if cue.tone == "start"] == [sheet.flight_start_s]


def test_pitch_bank_rudder_and_speed_are_called_in_every_loop(flight: Flight) -> None:
    sheet = cue_sheet(flight, {})
    seams = [0.0] + [one.time_s for one in flight.moments if one.name == "180"]
    for begin, end in itertools.pairwise(seams):
        said = " ".join(
            cue.phrase.text.lower()
            for cue in sheet.cues
            if cue.phrase and begin <= cue.start_s - sheet.flight_start_s < end
        )
        for word in ("pitch", "bank", "rudder", "kt", "reference"):
            assert word in said


def test_what_begins_at_a_checkpoint_is_said_there_and_nothing_is_begun_at_the_end() -> None:
    script, plane = maneuver("lazy-eight"), load("meadow-four")
    for loops in (1, 2, 4, 5):
        day = conditions(Day(loops=loops), script, plane)
        said = [
            cue.phrase.text for cue in cue_sheet(plan(script, plane, day), {}).cues if cue.phrase
        ]
        at_180 = [text for text in said if text.startswith("180.")]
        begun = ["Roll left", "Again left", "Roll right", "Again right"]
        for text, words in zip(at_180, [*begun[: loops - 1], "Wings level"], strict=True):
            assert words in text


def test_a_loop_is_called_whole_with_the_voice_s_own_lengths(flight: Flight) -> None:
    # At 0.35 s a word, about what the voice takes, nothing is left out.
    sheet = cue_sheet(
        flight, {one.spoken: 0.35 * len(one.spoken.split()) for one in phrases(flight)}
    )
    assert not sheet.dropped
    in_flight = [cue for cue in sheet.cues if cue.phrase and cue.start_s >= sheet.flight_start_s]
    assert len(in_flight) == 12 * len(flight.sides)


def test_every_word_a_script_may_name_has_a_value_and_no_other(flight: Flight) -> None:
    assert set(values(flight, flight.moments[0])) == set(SAYABLE)


def test_a_slow_voice_drops_callouts_and_every_one_is_listed(flight: Flight) -> None:
    slow = {phrase.spoken: 6.0 for phrase in phrases(flight)}
    sheet = cue_sheet(flight, slow)
    assert sheet.dropped
    assert all(sentence.startswith("loop ") for sentence in sheet.dropped)
    checkpoints = [cue for cue in sheet.cues if cue.phrase and cue.phrase.text[:1].isdigit()]
    assert len(checkpoints) >= len(flight.moments)


def test_a_warning_is_heard_after_the_title(flight: Flight) -> None:
    sheet = cue_sheet(flight, {}, ("Mind the wind.",))
    assert [cue.phrase.text for cue in sheet.cues[:2] if cue.phrase][1] == "Mind the wind."


def test_every_phrase_that_is_placed_was_asked_for_beforehand(flight: Flight) -> None:
    asked = set(phrases(flight))
    assert {cue.phrase for cue in cue_sheet(flight, {}).cues if cue.phrase} <= asked
