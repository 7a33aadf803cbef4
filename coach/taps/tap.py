"""One press of a student's key, or one word, on the flight's clock."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

UNCLEAR = ""
"""What `Tap.said` is where something was heard and not understood."""


@dataclass(frozen=True)
class Tap:
    """What a student did at one moment.

    Attributes:
        time_s: seconds from the first moment of the maneuver.
        value: what the student says the asked number is there, in the number's own unit (degrees,
            knots, feet; of a pitch that was said, below level negative); None for a plain "now".
        how: by a key or by voice.
        hesitation_s: the student's own seconds from the end of the coach's question to the first
            word of its answer; None where there was none.
        said: by voice, the checkpoint that was named, or which number the value is ("bank"), or
            `UNCLEAR`; None for a key, and in runs from before this was kept.
    """

    time_s: float
    value: float | None = None
    how: Literal["key", "voice"] = "key"
    hesitation_s: float | None = None
    said: str | None = None
