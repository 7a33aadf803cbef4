"""How a checkpoint's name may be said."""

from __future__ import annotations

import re
from collections.abc import Iterator

from coach.callouts.figures import spoken_out
from coach.ears.figures import wordings

POINT = ("degrees", "point", "degree point", "degree mark", "now")
"""What may follow a name; "45 degree point" is the Airplane Flying Handbook's (from memory)."""

_ALIKE = (
    ("rolled out", "roll out", "rolling out"),
    ("going around", "go around"),
    ("wings level", "wings are level", "level wings"),
    ("level off", "leveling off"),
    ("halfway", "half way"),
    ("touchdown", "touch down"),
    ("turn", "turning"),
)
"""Words that stand for each other in a name (common practice, no source)."""


def name_wordings(name: str) -> tuple[str, ...]:
    """How a checkpoint's name may be said, the coach's own way first."""
    words = re.sub(r"[^\w']+", " ", spoken_out(name)).lower().strip()
    ways = [words, *_others(words)]
    if name.isdecimal() and name[0] != "0":
        ways += wordings("speed", int(name))
    return tuple(dict.fromkeys(ways))


def _others(words: str) -> Iterator[str]:
    for row in _ALIKE:
        for one in row:
            if re.search(rf"\b{one}\b", words):
                yield from (re.sub(rf"\b{one}\b", other, words) for other in row)
    # "Turn base" is the base turn.
    if turn := re.fullmatch(r"turn (.+)", words):
        yield f"{turn[1]} turn"
    if turn := re.fullmatch(r"(\w+) turn", words):
        yield f"turning {turn[1]}"
