"""How much the coach says, and how it asks."""

import re

import pytest

from coach.callouts.cuesheet import Phrase
from coach.callouts.said import COUNT_FROM
from coach.callouts.sheet import THINKING_S, cue_sheet, phrases
from coach.callouts.support import SUPPORTS
from coach.callouts.wording import values
from coach.flight.flight import Flight
from coach.flight.moment import Moment
from tests.callouts.flown import SCRIPTS, flown, spoken, voice


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
    moments = len(flight.moments)
    sheets = {one: spoken(cue_sheet(flight, {}, support=one)) for one in SUPPORTS}
    said = {one: len(phrases) - introduced for one, phrases in sheets.items()}
    # The lazy eight's safety words go with its checkpoints; where it asks, it answers too.
    assert said.pop("everything") > 2 * moments
    assert said == {"checkpoints": moments, "asking": 2 * moments, "tones": 0, "start": 0}
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
        assert any("lose to the stall. Ball in the middle." in one for one in said)


def test_what_is_asked_for_is_given_at_the_checkpoint_after_a_silence(flight: Flight) -> None:
    wanted = phrases(flight, support="asking")
    measures = {phrase: voice(phrase, 0.35) for phrase in wanted}
    sheet = cue_sheet(flight, measures, support="asking")
    said = [(cue, phrase) for cue, phrase in spoken(sheet) if cue.moment == 0]
    (question, asked), (answer, told) = said
    assert asked.text == "Pitch and bank at 45?"
    assert question.asks == ("pitch", "bank")
    pitch = f"{flight.moments[0].pitch_deg:.0f}"
    assert told.text == f"45. Pitch {pitch}° above level, bank 15°."
    assert told.spoken.startswith("Forty five. Pitch ")
    assert told.spoken.endswith("above level, bank fifteen.")
    lands = answer.start_s + measures[told].lands_s
    assert lands == pytest.approx(sheet.position_s(flight.moments[0].time_s))
    assert question.gap_s >= answer.length_s + THINKING_S - 1e-9
    assert question.end_s + question.gap_s == pytest.approx(answer.start_s)
    assert answer.gap_s == 0.0


@pytest.mark.parametrize("name", SCRIPTS)
def test_every_number_that_is_asked_for_is_told_afterwards(name: str) -> None:
    for pace, seconds_per_word in ((1.0, 0.43), (1.5, 0.6), (0.5, 0.3)):
        flight = flown(name)
        measures = {
            phrase: voice(phrase, seconds_per_word) for phrase in phrases(flight, support="asking")
        }
        sheet = cue_sheet(flight, measures, support="asking", pace=pace)
        for cue, phrase in spoken(sheet):
            if not cue.gap_s:
                continue
            assert cue.moment is not None
            moment = flight.moments[cue.moment]
            (told,) = [
                other.text
                for answer, other in spoken(sheet)
                if answer.moment == cue.moment and not answer.gap_s
            ]
            known = values(flight, moment)
            for asked in cue.asks:
                value = "ings level" if told_level(asked, moment) else known[asked].text
                assert value in told, (phrase.text, told)


def told_level(asked: str, moment: Moment) -> bool:
    return asked == "bank" and round(moment.bank_deg) == 0


def test_a_question_without_room_is_dropped_and_listed() -> None:
    flight = flown("accelerated-stall")
    sheet = cue_sheet(flight, {}, support="asking", pace=1.5)
    asked = {cue.moment for cue, _ in spoken(sheet) if cue.gap_s}
    missing = [
        moment for index, moment in enumerate(flight.moments) if moment.asks and index not in asked
    ]
    assert missing
    for moment in missing:
        shortest = moment.asks[0].capitalize()
        assert f"loop 1, {moment.name}: no room for “{shortest}?”" in sheet.dropped


def test_niner_is_heard_everywhere_and_read_nowhere(flight: Flight) -> None:
    for support in SUPPORTS:
        warned = ("Down to 900 ft.",)
        plain = phrases(flight, support=support, warnings=warned)
        other = phrases(flight, support=support, warnings=warned, niner=True)
        assert [phrase.text for phrase in plain] == [phrase.text for phrase in other]
        said = " ".join(phrase.spoken for phrase in other).lower()
        assert "niner hundred" in said
        assert not re.search(r"\bnine\b", said)
