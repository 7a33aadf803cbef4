"""What was heard, as the recogniser hands it on."""

from __future__ import annotations

import math
from dataclasses import dataclass

NOISE = 0.2
"""What the recogniser is less sure of is no callout at all."""

SURE = 0.5
"""What it is less sure of is never called wrong."""

LOUD_DB = 6.0
"""Where a voice usually stands out of the room less, some of what is said is not cut out of it. Of
42 phrases of the tuning voices none is lost where they stand out by 5.4 dB in babble, by 2.4 dB
beside an engine and by 4.6 dB beside a fan; a fifth is in babble at 3.6 dB, half beside a fan at
3.1 dB (cut as in `tests.bench.cut`). What else speaks there is taken for a part of it, too: what
stands out less is never called wrong."""


@dataclass(frozen=True)
class Utterance:
    """Words that a student said.

    Attributes:
        words: in lower case, separated by spaces; "" where none fit at all.
        start_s: when the first word began, on `time.perf_counter`.
        end_s: when the last word was over.
        expected: number of the grammar that it was heard with, as `Ears.expect` gave it.
        sure: from 0 (noise or anything else) to 1 (these words and no others).
        whole: whether all of it was heard; else a part may lie under the coach's own words, and
            "sixty three" may have become "three".
        stands_out_db: how far it stood out of the room, as `coach.ears.segments.Segment` has it.
    """

    words: str
    start_s: float
    end_s: float
    expected: int
    sure: float
    whole: bool = True
    stands_out_db: float = math.inf
