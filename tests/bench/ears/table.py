"""Outcomes as tables: by room, by voice, and which phrases are confused with what."""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Callable, Iterator, Sequence

from tests.bench.ears.outcome import Outcome
from tests.bench.ears.samples import ROOMS, SETS

Holds = Callable[[Outcome], bool]

_COLUMNS = (
    "room", "exact", "nothing heard", "wrong found", "wrong unclear", "right called wrong",
    "right unclear", "onset off, median / 95 %",
)  # fmt: skip
WORST = 10


def tables(found: Sequence[Outcome]) -> Iterator[str]:
    """Every table of these outcomes, line by line."""
    for kind in SETS:
        own = [one for one in found if one.set == kind]
        if own:
            yield f"\nSet “{kind}”, {len({one.number for one in own})} phrases a room:\n"
            yield from by_room(own)
            yield ""
            yield from by_voice(own)
            yield ""
            yield from confusions(own)


def compared(before: Sequence[Outcome], after: Sequence[Outcome]) -> Iterator[str]:
    """Two recognisers side by side, on the very same samples."""
    pairs = {one.sample: one for one in before}
    both = [(pairs[one.sample], one) for one in after if one.sample in pairs]
    for kind in SETS:
        yield f"\nSet “{kind}”, before / after on the same samples:\n"
        yield _row(["room", "phrases", *_COLUMNS[1:-1]])
        yield _row(["---"] * len(_COLUMNS))
        for room in ROOMS:
            own = [pair for pair in both if (pair[0].set, pair[0].room) == (kind, room)]
            if own:
                rows = [_cells([pair[side] for pair in own]) for side in (0, 1)]
                percents = [
                    f"{one.partition(' (')[0]} / {other}" for one, other in zip(*rows, strict=True)
                ]
                yield _row([room, str(len(own)), *percents])


def by_room(found: Sequence[Outcome]) -> Iterator[str]:
    """A row for each room."""
    yield _row(_COLUMNS)
    yield _row(["---"] * len(_COLUMNS))
    for room in ROOMS:
        own = [one for one in found if one.room == room]
        if not own:
            continue
        onsets = sorted(abs(one.onset_s or 0.0) for one in own if one.exact) or [math.nan]
        late = onsets[min(len(onsets) - 1, int(0.95 * len(onsets)))]
        onset = f"{1000 * statistics.median(onsets):.0f} / {1000 * late:.0f} ms"
        yield _row([room, *_cells(own), onset])


def _cells(found: Sequence[Outcome]) -> list[str]:
    wrong = [one for one in found if one.wrong]
    right = [one for one in found if not one.wrong]
    return [
        share(found, lambda one: one.exact),
        share(found, lambda one: not one.heard),
        share(wrong, lambda one: one.verdict == "wrong"),
        share(wrong, lambda one: one.verdict == "unclear"),
        share(right, lambda one: one.verdict == "wrong"),
        share(right, lambda one: one.verdict == "unclear"),
    ]


def by_voice(found: Sequence[Outcome]) -> Iterator[str]:
    """A row for each voice, with what came through of it in each room."""
    rooms = [room for room in ROOMS if any(one.room == room for one in found)]
    yield _row(["exact, by voice", *rooms, "all"])
    yield _row(["---"] * (len(rooms) + 2))
    for voice in dict.fromkeys(one.voice for one in found):
        own = [one for one in found if one.voice == voice]
        cells = [_of([one for one in own if one.room == room]) for room in rooms]
        yield _row([voice, *cells, _of(own)])


def confusions(found: Sequence[Outcome]) -> Iterator[str]:
    """The phrases that came through least, and what was heard in their place."""
    numbers = {one.number: [each for each in found if each.number == one.number] for one in found}
    worst = sorted(numbers.values(), key=lambda own: sum(one.exact for one in own) / len(own))
    yield _row(["said", "by", "exact", "heard in its place"])
    yield _row(["---"] * 4)
    for own in worst[:WORST]:
        if all(one.exact for one in own):
            break
        other = Counter(
            " + ".join(words for words, _ in one.heard) or "nothing" for one in own if not one.exact
        )
        told = ", ".join(f"“{words}” {times}" for words, times in other.most_common(4))
        yield _row([own[0].words, own[0].voice, _of(own), told])


def share(found: Sequence[Outcome], holds: Holds) -> str:
    """``"86 % (129/150)"``."""
    count = sum(map(holds, found))
    return f"{100 * count / max(1, len(found)):.0f} % ({count}/{len(found)})"


def _of(found: Sequence[Outcome]) -> str:
    return f"{sum(one.exact for one in found)}/{len(found)}"


def _row(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"
