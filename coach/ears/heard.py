"""What was heard, as the recogniser hands it on."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Utterance:
    """Words that a student said.

    Attributes:
        words: in lower case, separated by spaces.
        start_s: when the first word began, on `time.perf_counter`.
        end_s: when the last word was over.
        sure: from 0 (noise or anything else) to 1 (these words and no others).
    """

    words: str
    start_s: float
    end_s: float
    sure: float
