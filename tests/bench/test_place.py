"""How long placing callouts takes, and that it grows no faster than their number.

Run with ``pytest tests/bench -o addopts= -s``; nothing here is part of the ordinary tests.
"""

import random
import time
from typing import Any

import pytest

from coach.callouts.cuesheet import Phrase
from coach.callouts.placement import KINDS, Phrasing, Wanted, place

PHRASES = tuple(Phrase(word, word) for word in ("the long phrasing", "a shorter one", "short"))


def callouts(count: int) -> list[Wanted]:
    """As crowded as a rehearsal: one every 4 s, of 5 s, 3 s or 1 s, most of them movable."""
    drawn = random.Random(count)
    found = []
    for index in range(count):
        kind = drawn.choice(KINDS)
        slack = 0.0 if kind == "checkpoint" else 1.5
        start = 4.0 * index + drawn.uniform(-2.0, 2.0)
        found.append(
            Wanted(
                kind,
                tuple(
                    Phrasing(phrase, start, length * drawn.uniform(0.8, 1.2), slack, slack)
                    for phrase, length in zip(PHRASES, (5.0, 3.0, 1.0), strict=True)
                ),
            )
        )
    return sorted(found, key=lambda one: one.phrasings[-1].start_s)


@pytest.mark.parametrize("count", [10, 100, 1_000, 10_000])
def test_placing(benchmark: Any, count: int) -> None:
    placed = benchmark.pedantic(place, (callouts(count), 0.0), rounds=3)
    assert sum(one is not None for one in placed) > count // 2


def test_ten_times_the_callouts_cost_no_more_than_thirteen_times_as_long() -> None:
    few, many = callouts(1_000), callouts(10_000)
    took = {len(some): min(_seconds(some) for _ in range(3)) for some in (few, many)}
    print(f"1,000 callouts {took[1_000]:.3f} s, 10,000 callouts {took[10_000]:.3f} s")
    assert took[10_000] < 13.0 * took[1_000]


def _seconds(some: list[Wanted]) -> float:
    began = time.perf_counter()
    place(some, 0.0)
    return time.perf_counter() - began
