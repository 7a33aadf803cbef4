"""A whole asking-mode rehearsal as a microphone hears it, with a synthetic student in the room."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from coach.callouts.cuesheet import CueSheet, Measure
from coach.callouts.sheet import cue_sheet, phrases
from coach.ears.grammar import Grammar
from coach.ears.passages import Passages, passages, placed
from coach.ears.segments import RATE, Samples
from coach.ears.spoken import Spoken
from coach.ears.utterance import Utterance
from coach.flight.asked import right
from coach.flight.flight import Flight
from coach.flight.moment import Moment
from coach.script.asked import Asked
from tests.callouts.flown import flown

from .attempts import WRONG, told
from .judging import Answer, judge
from .speakers import noise, say

THINKS_S = 0.6
SILENT = ""

MISTAKES: Mapping[tuple[int, str], str] = {
    (1, "90"): "eighty knots, bank thirty",
    (2, "45"): "pitch seventeen above level, bank thirty",
    (3, "135"): SILENT,
    (4, "180"): "three thousand five hundred feet, one hundred knots",
}
"""A wrong speed, a wrong bank, nothing at all, a wrong altitude."""

FOUND = {(1, "90"): "wrong value", (2, "45"): "wrong value", (3, "135"): "missed",
         (4, "180"): "wrong value"}  # fmt: skip


@dataclass(frozen=True)
class Rehearsed:
    flight: Flight
    sheet: CueSheet
    passages: Passages

    def expected(self) -> list[tuple[float, Grammar]]:
        return [(place.from_s, place.grammar) for place in self.passages.passages]

    def verdicts(self, utterances: list[Utterance]) -> tuple[Answer, ...]:
        """The judgement of what was heard, all times on the soundtrack."""
        spoken = [
            placed(one, one.start_s, self.passages.passages[one.expected], self.sheet)
            for one in utterances
        ]
        heard: list[Spoken] = [one for one in spoken if one is not None]
        asked = [cue.moment for cue in self.sheet.cues if cue.gap_s and cue.moment is not None]
        return judge(self.flight.moments, asked, heard, until_s=self.flight.length_s)

    def mistakes(self, utterances: list[Utterance]) -> dict[tuple[int, str], str]:
        """Every checkpoint whose verdict is anything but on time."""
        moments = self.flight.moments
        return {
            (moments[one.moment].loop, moments[one.moment].name): one.word
            for one in self.verdicts(utterances)
            if one.word != "on time"
        }


def lazy_eight(coach: str = "en-us+m1") -> Rehearsed:
    """With the coach's phrases as long as that voice makes them."""
    flight = flown("lazy-eight")
    wanted = phrases(flight, support="asking")
    measures = {
        phrase: Measure(
            len(say(phrase.spoken, coach)) / RATE,
            len(say(phrase.spoken.partition(phrase.lands)[0], coach)) / RATE
            if phrase.spoken.partition(phrase.lands or "?")[0] and phrase.lands
            else 0.0,
        )
        for phrase in wanted
    }
    sheet = cue_sheet(flight, measures, support="asking")
    return Rehearsed(flight, sheet, passages(sheet, flight.moments))


def coach(rehearsed: Rehearsed, voice: str = "en-us+m1") -> Samples:
    """What a microphone hears of the coach, 10 dB below the student."""
    sound = np.zeros(round(rehearsed.sheet.length_s * RATE), np.float32)
    for cue in rehearsed.sheet.cues:
        if cue.phrase is not None:
            said = say(cue.phrase.spoken, voice)[: round(cue.length_s * RATE)]
            at = round(cue.start_s * RATE)
            sound[at : at + len(said)] += 10 ** (-10 / 20) * said
    return sound


def right_words(moment: Moment, seed: int = 0) -> str:
    """What the coach wants to hear."""
    dice = random.Random(moment.time_s + 1000.0 * seed)
    return ", ".join(told(one, value, dice) for one, value in _right_values(moment).items())


def _right_values(moment: Moment) -> dict[Asked, float]:
    return {
        one: round(value, -2) if one == "altitude" else round(value)
        for one, value in right(moment).items()
    }


def mistaken(rehearsed: Rehearsed, seed: int) -> dict[tuple[int, str], str]:
    """Three wrong answers and one that is missing, drawn anew for each seed; 0 is `MISTAKES`."""
    if not seed:
        return dict(MISTAKES)
    dice = random.Random(seed)
    moments = rehearsed.flight.moments
    asked = [moments[cue.moment] for cue in rehearsed.sheet.cues if cue.gap_s and cue.moment]
    found: dict[tuple[int, str], str] = {}
    for moment in dice.sample(asked, 4):
        values = _right_values(moment)
        wrong = dice.choice([one for one in values if values[one]])
        values[wrong] += dice.choice([step for step in WRONG[wrong] if values[wrong] + step > 0])
        words = ", ".join(told(one, value, dice) for one, value in values.items())
        found[moment.loop, moment.name] = words if len(found) < 3 else SILENT
    return found


def put_in(mistakes: Mapping[tuple[int, str], str]) -> dict[tuple[int, str], str]:
    """The verdicts that these mistakes ought to get, as `FOUND`."""
    return {place: "wrong value" if words else "missed" for place, words in mistakes.items()}


def student(
    rehearsed: Rehearsed,
    voice: str,
    words_per_minute: int,
    *,
    level: float = 0.0015,
    think_s: float = THINKS_S,
    waits: bool = True,
    mistakes: Mapping[tuple[int, str], str] = MISTAKES,
    seed: int = 0,
) -> Samples:
    """What a microphone hears of the student, who answers every question, some of them wrong.

    They think for so long after each question, or after its first word, where nobody waits.
    """
    sound = level * noise("fan", round(rehearsed.sheet.length_s * RATE))
    for cue in rehearsed.sheet.cues:
        if not cue.gap_s or cue.moment is None:
            continue
        moment = rehearsed.flight.moments[cue.moment]
        words = mistakes.get((moment.loop, moment.name))
        words = right_words(moment, seed) if words is None else words
        if words:
            said = say(words, voice, words_per_minute)
            at = round(((cue.end_s if waits else cue.start_s) + think_s) * RATE)
            sound[at : at + len(said)] += said
    return np.asarray(sound, np.float32)
