"""What came of one phrase, as the coach would judge it; kept as a line of JSON."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from coach.callouts.cuesheet import Cue
from coach.ears.grammar import Grammar
from coach.ears.passages import Passage, placed
from coach.ears.segments import Samples
from coach.ears.spoken import Spoken
from coach.ears.utterance import Utterance
from tests.bench.ears.samples import Recording, recordings
from tests.ears.attempts import Attempt
from tests.ears.judging import judge
from tests.sound.sheets import sheet_of

SHEET = sheet_of()

Hear = Callable[[Samples, Sequence[tuple[float, Grammar]]], list[Utterance]]


@dataclass(frozen=True)
class Outcome:
    """What came of one phrase.

    Attributes:
        set: a name of `samples.SETS`.
        room: one of `samples.ROOMS`.
        number: of the phrase in its set.
        voice: who said it.
        words: what was said.
        values: what that means.
        wrong: which of these numbers are wrong at their checkpoint.
        heard: the words that were heard for it, and how sure they are.
        understood: the numbers that these words mean, whether it is sure of them or not.
        verdict: "right", "wrong" or "unclear".
        onset_s: how much too late the beginning was found; None where nothing was heard.
    """

    set: str
    room: str
    number: int
    voice: str
    words: str
    values: Mapping[str, float]
    wrong: Sequence[str]
    heard: Sequence[tuple[str, float]]
    understood: Mapping[str, float]
    verdict: str
    onset_s: float | None

    @property
    def sample(self) -> tuple[str, str, int]:
        """Which sample it came of."""
        return self.set, self.room, self.number

    @property
    def exact(self) -> bool:
        """Every number came through, and no other."""
        return self.understood == self.values

    @property
    def line(self) -> str:
        """As a file keeps it."""
        return json.dumps(asdict(self))


def kept(file: Path) -> list[Outcome]:
    """The outcomes of a file, as far as it was written."""
    lines = file.read_text().splitlines() if file.exists() else []
    return [Outcome(**json.loads(line)) for line in lines if line.endswith("}")]


def outcomes(
    kind: str, room: str, count: int, hear: Hear, known: Collection[int] = ()
) -> Iterator[Outcome]:
    """Every phrase of a set in a room, whether anything of it was heard or not.

    Args:
        kind: which set.
        room: where.
        count: so many of its phrases.
        hear: what hears.
        known: numbers of phrases that need not be heard again.
    """
    for recording in recordings(kind, room, count):
        if recording.tries.keys() <= {*known}:
            continue
        heard = hear(recording.sound, recording.expected)
        for place, (number, one) in enumerate(recording.tries.items()):
            found = [each for each in heard if each.expected == place]
            yield outcome(recording, place, one, found, set=kind, room=room, number=number)


def outcome(
    recording: Recording[Attempt],
    place: int,
    one: Attempt,
    heard: Sequence[Utterance],
    **known: object,
) -> Outcome:
    """Of one phrase, from all that was heard while it was listened for."""
    start_s = recording.starts_s[place]
    spoken = _spoken(one, heard, start_s)
    due = replace(one.moment, time_s=SHEET.flight_s(start_s + 3.0))
    (judged,) = judge((due,), (0,), spoken, until_s=1e9)
    said = {asked: value for each in spoken for asked, value in each.said.values.items()}
    return Outcome(
        voice=recording.voice,
        words=one.words,
        values=one.values,
        wrong=[asked for asked, right in one.right.items() if not right],
        heard=[(each.words, round(each.sure, 3)) for each in heard],
        understood=said,
        verdict=_verdict(judged.word),
        onset_s=round(heard[0].start_s - start_s, 3) if heard else None,
        **known,  # type: ignore[arg-type]
    )


def _spoken(one: Attempt, heard: Sequence[Utterance], start_s: float) -> list[Spoken]:
    question = Cue(start_s - 1.0, 0.5, gap_s=3.0, moment=0)
    place = Passage(0.0, 0, one.grammar, question)
    found = [placed(each, each.start_s, place, SHEET) for each in heard]
    return [each for each in found if each is not None]


def _verdict(word: str) -> str:
    if word in ("on time", "late", "early"):
        return "right"
    return "wrong" if word.startswith("wrong") else "unclear"
