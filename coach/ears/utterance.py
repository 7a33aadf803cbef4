"""What was heard, as the recogniser hands it on."""

from __future__ import annotations

from dataclasses import dataclass

NOISE = 0.2
"""What the recogniser is less sure of is no callout at all."""

SURE = 0.5
"""What it is less sure of is never called wrong."""


@dataclass(frozen=True)
class Utterance:
    """Words that a student said.

    Attributes:
        words: in lower case, separated by spaces.
        start_s: when the first word began, on `time.perf_counter`.
        end_s: when the last word was over.
        expected: number of the grammar that it was heard with, as `Ears.expect` gave it.
        sure: from 0 (noise or anything else) to 1 (these words and no others).
    """

    words: str
    start_s: float
    end_s: float
    expected: int
    sure: float
