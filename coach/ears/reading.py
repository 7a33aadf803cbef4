"""From the words of a student to names and numbers.

Units and what a number is called tell which one it is; one without either goes by its plausibility
and by the order of the question. Where words can be read in several ways, that way holds that is
best for the student: "one hundred and thirty" is 130 knots, or 100 knots and a bank of 30.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from coach.ears.figures import likely
from coach.ears.fillers import FILLERS, MENDED
from coach.ears.names import POINT
from coach.flight.asked import is_right
from coach.script.asked import ASKED, Asked

_Phrases = list[list[tuple[int, str]]]

BOTH = (1, -1)
_UNITS = ("degrees", "degree")


@dataclass(frozen=True)
class Reading:
    """One way to read words, from the first one to some other.

    Attributes:
        names: checkpoints, as the script writes them.
        values: numbers in the order in which they were said, each by its quantity.
        unusual: how many were said again, or are names that follow numbers.
        is_mended: a correction was begun, and not yet said.
    """

    names: tuple[str, ...] = ()
    values: tuple[tuple[Asked, float], ...] = ()
    unusual: int = 0
    is_mended: bool = False


@dataclass(frozen=True)
class _Number:
    """A number that was said, and how often it was said again at once."""

    one: Asked
    value: float
    again: int


class Reader:
    """Reads what may be said at one place.

    Args:
        names: the checkpoints, by every wording of theirs.
        figures: the numbers of each quantity, by every wording of theirs.
        expected: the right numbers, in the order in which they are asked for.
        due: the checkpoint whose name is expected.
        sides: where a number may be said to be, above level (1) or below (-1), where not `BOTH`.
    """

    def __init__(
        self,
        names: Mapping[str, str],
        figures: Mapping[Asked, Mapping[str, float]],
        expected: Mapping[Asked, float],
        due: str,
        sides: Mapping[Asked, Sequence[int]],
    ) -> None:
        self._names, self._figures, self._expected, self._due = names, figures, expected, due
        self._sides = {one: (0, *sides.get(one, BOTH)) for one in figures}
        self._order = {one: place for place, one in enumerate(expected)}
        known: list[Iterable[str]] = [names, *figures.values(), FILLERS, MENDED, POINT, _UNITS]
        known += [words for one in figures for words in (ASKED[one].before, ASKED[one].after)]
        self._most = max(len(words.split()) for some in known for words in some)

    def read(self, words: str) -> Reading | None:
        """The way of reading all the words that is best for the student; None where there is none.

        The best has the fewest mistakes; of several the one that says the fewest numbers, since
        "fifty one" is one number and not fifty of one thing and one of the next; then the one
        that keeps to the order of the question. A mistake that may have been one in either of two
        numbers is none at all.
        """
        said = _phrases(words.split(), self._most)
        found: list[dict[Reading, None]] = [{} for _ in said]
        found[0][Reading()] = None
        for at, readings in enumerate(found[:-1]):
            if readings:
                for end, reading in self._further(readings, said, at):
                    found[end][reading] = None
        whole = [one for one in found[-1] if (one.names or one.values) and not one.is_mended]
        best = min(whole, key=self._against, default=None)
        return None if best is None or self._is_doubtful(best, whole) else best

    def _further(
        self, readings: Iterable[Reading], said: _Phrases, at: int
    ) -> Iterator[tuple[int, Reading]]:
        """Each reading up to a place, read on from there, and up to where."""
        numbers = list(self._numbers(said, at))
        for reading in readings:
            for end, phrase in said[at]:
                if phrase in FILLERS:
                    yield end, reading
                if phrase in MENDED and reading.values and not reading.is_mended:
                    yield end, replace(reading, is_mended=True)
                if phrase in self._names and not reading.is_mended:
                    named = _named(reading, self._names[phrase])
                    yield end, named
                    for after, point in said[end]:
                        if point in POINT:
                            yield after, named
            for end, number in numbers:
                if (more := _with(reading, number)) is not None:
                    yield end, more

    def _numbers(self, said: _Phrases, at: int) -> Iterator[tuple[int, _Number]]:
        """Every number that can be read at a place, and up to where."""
        for one, figures in self._figures.items():
            for begin, before in self._before(one, said, at):
                for middle, phrase in said[begin]:
                    if phrase not in figures:
                        continue
                    again = [end for end, other in said[middle] if other == phrase]
                    for times, over in enumerate((middle, *again)):
                        for end, after in _after(one, said, over):
                            side = before or after
                            if after in (0, side) and side in self._sides[one]:
                                value = self._signed(one, figures[phrase], side)
                                yield end, _Number(one, value, times)

    def _before(self, one: Asked, said: _Phrases, at: int) -> Iterator[tuple[int, int]]:
        """Where the figures may begin, and on which side of level their number is said to be."""
        yield at, 0
        before = ASKED[one].before
        ends = {end: before[phrase] for end, phrase in said[at] if phrase in before}
        while ends:
            end = min(ends)
            side = ends.pop(end)
            yield end, side
            for later, phrase in said[end]:
                if phrase in FILLERS or before.get(phrase) == side:
                    ends[later] = side

    def _signed(self, one: Asked, value: float, side: int) -> float:
        """A number on its side, which where it is not said is the right one."""
        if ASKED[one].sides != "told" or not value:
            return value
        return value * (side or (-1 if self._expected[one] < 0.0 else 1))

    def _against(self, reading: Reading) -> tuple[int, int, int, tuple[int, ...], int, float]:
        """What speaks against a reading, the weightiest first."""
        wrong = sum(not is_right(one, said, self._expected[one]) for one, said in reading.values)
        wrong += sum(name != self._due for name in reading.names)
        places = tuple(self._order[one] for one, _ in reading.values)
        chances = (likely(one, abs(said), abs(self._expected[one])) for one, said in reading.values)
        named = len(reading.names)
        return wrong, reading.unusual, len(places), places, -named, -math.prod(chances)

    def _is_doubtful(self, best: Reading, others: Iterable[Reading]) -> bool:
        """Whether others are as good as one with a mistake, and are about other numbers."""
        bad, about = self._against(best)[:3], {one for one, _ in best.values}
        return bad[0] > 0 and any(
            self._against(other)[:3] == bad and {one for one, _ in other.values} != about
            for other in others
        )


def _after(one: Asked, said: _Phrases, at: int) -> Iterator[tuple[int, int]]:
    """Where all that belongs to a number ends, and on which side of level it is said to be."""
    ends = [at]
    if not ASKED[one].unit_tells:
        ends += [end for end, phrase in said[at] if phrase in _UNITS]
    for end in ends:
        yield end, 0
        for later, phrase in said[end]:
            if phrase in ASKED[one].after:
                yield later, ASKED[one].after[phrase]


def _named(reading: Reading, name: str) -> Reading:
    """A reading and one more name, which mostly comes before the numbers."""
    again = bool(reading.values) or name in reading.names
    names = tuple(dict.fromkeys((*reading.names, name)))
    return replace(reading, names=names, unusual=reading.unusual + again)


def _with(reading: Reading, number: _Number) -> Reading | None:
    """A reading and one more number; None where that is said twice and is not the same."""
    values, unusual = reading.values, reading.unusual + number.again
    this, known = (number.one, number.value), dict(reading.values)
    if reading.is_mended:
        if values[-1][0] != number.one:
            return None
        return Reading(reading.names, (*values[:-1], this), unusual)
    if number.one not in known:
        return Reading(reading.names, (*values, this), unusual)
    is_same = known[number.one] == number.value
    return Reading(reading.names, values, unusual + 1) if is_same else None


def _phrases(words: Sequence[str], most: int) -> _Phrases:
    """For each word, every phrase that begins with it, and where each ends."""
    return [
        [(end, " ".join(words[at:end])) for end in range(at + 1, min(len(words), at + most) + 1)]
        for at in range(len(words) + 1)
    ]
