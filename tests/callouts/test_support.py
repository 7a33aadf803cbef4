"""How much the coach says, and how it asks."""

import re

import pytest

from coach.callouts.cuesheet import Phrase
from coach.callouts.said import COUNT_FROM
from coach.callouts.sheet import cue_sheet, phrases
from coach.callouts.support import SUPPORTS
from coach.flight.flight import Flight
from tests.callouts.flown import flown, spoken, voice


@pytest.fixture(scope="module")
def flight() -> Flight:
    return flown("lazy-eight")


def test_a_warning_is_heard_after_the_title_at_every_support(flight: Flight) -> None:
    for support in SUPPORTS:
        sheet = cue_sheet(flight, {}, support=support, warnings=("Down to 1,500 ft.",))
        second = spoken(sheet)[1][1]
        assert second == Phrase("Down to 1,500 ft.", "Down to one thousand five hundred feet.")


def test_each_support_says_less_than_the_one_before(flight: Flight) -> None:
    introduced = 3 + COUNT_FROM
    loops, moments = len(flight.sides), len(flight.moments)
    said = {one: len(spoken(cue_sheet(flight, {}, support=one))) - introduced for one in SUPPORTS}
    # The lazy eight has no safety callout; where it asks, it answers too.
    assert said == {
        "everything": 12 * loops,
        "checkpoints": moments,
        "asking": 2 * moments,
        "tones": 0,
        "start": 0,
    }
    counts = {
        one: [sum(cue.tone == tone for cue in cue_sheet(flight, {}, support=one).cues)
              for tone in ("start", "tick", "checkpoint", "end")]
        for one in SUPPORTS
    }  # fmt: skip
    assert counts.pop("start") == [1, 0, 0, 1]
    assert set(map(tuple, counts.values())) == {(1, 3 * moments, moments, 1)}


def test_a_safety_callout_is_heard_whenever_anything_is_said_in_flight() -> None:
    for support in ("everything", "checkpoints", "asking"):
        said = [
            phrase.text for _, phrase in spoken(cue_sheet(flown("chandelle"), {}, support=support))
        ]
        assert "Close to the stall. Stay coordinated." in said


def test_what_is_asked_for_is_given_at_the_checkpoint_after_a_silence(flight: Flight) -> None:
    wanted = phrases(flight, support="asking")
    measures = {phrase: voice(phrase, 0.35) for phrase in wanted}
    sheet = cue_sheet(flight, measures, support="asking")
    said = [(cue, phrase) for cue, phrase in spoken(sheet) if cue.moment == 0]
    (question, asked), (answer, told) = said
    assert asked.text == "Pitch and bank at 45?"
    pitch = f"{flight.moments[0].pitch_deg:.0f}"
    assert told.text == f"45. Pitch {pitch}° above level, bank 15°."
    assert told.spoken.startswith("Forty five. Pitch ")
    assert told.spoken.endswith("above level, bank fifteen.")
    lands = answer.start_s + measures[told].lands_s
    assert lands == pytest.approx(sheet.position_s(flight.moments[0].time_s))
    assert question.gap_s >= answer.length_s
    assert question.end_s + question.gap_s <= answer.start_s
    assert answer.gap_s == 0.0


def test_a_question_without_room_is_dropped_and_listed() -> None:
    flight = flown("accelerated-stall")
    sheet = cue_sheet(flight, {}, support="asking", pace=1.5)
    asked = {cue.moment for cue, _ in spoken(sheet) if cue.gap_s}
    missing = [moment for index, moment in enumerate(flight.moments) if index not in asked]
    assert missing
    for moment in missing:
        assert f"loop 1, {moment.name}: no room for “{moment.name.capitalize()}?”" in sheet.dropped


def test_niner_is_heard_everywhere_and_read_nowhere(flight: Flight) -> None:
    for support in SUPPORTS:
        warned = ("Down to 900 ft.",)
        plain = phrases(flight, support=support, warnings=warned)
        other = phrases(flight, support=support, warnings=warned, niner=True)
        assert [phrase.text for phrase in plain] == [phrase.text for phrase in other]
        said = " ".join(phrase.spoken for phrase in other).lower()
        assert "niner hundred" in said
        assert not re.search(r"\bnine\b", said)
