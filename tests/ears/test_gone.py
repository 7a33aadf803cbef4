"""When a microphone is gone: where it gives nothing, and not where nobody could have asked it."""

from __future__ import annotations

import queue
import sys
import time
from typing import Any

import numpy as np
import pytest

from coach.ears.ears import Ears
from tests.ears.room import Block

STANDS_S = 3600.0


class Sluggish(queue.SimpleQueue[Block]):
    """Its asker is halted for an hour whenever it asks; some blocks come all the same."""

    def __init__(self, blocks: int) -> None:
        super().__init__()
        self.halted_s = 0.0
        self._asked, self._left = 0, blocks

    def now(self) -> float:
        return self.halted_s

    def get(self, block: bool = True, timeout: float | None = None) -> Block:
        self._asked += 1
        self.halted_s += STANDS_S
        if self._left and self._asked % 2 == 0:
            self._left -= 1
            return Block(self.halted_s, np.full(800, 0.1, np.float32))
        raise queue.Empty


class Microphone:
    name, rate, alive = "attic", 16_000, True

    def __init__(self, blocks: Sluggish) -> None:
        self.blocks: queue.SimpleQueue[Any] = blocks

    def start(self) -> None:
        pass

    def close(self) -> None:
        pass


def test_a_program_that_was_halted_still_has_its_microphone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    blocks = Sluggish(50)
    idle = [sys.executable, "-c", "import sys; sys.stdin.read()"]
    monkeypatch.setattr("coach.ears.ears.program", lambda _: idle)
    monkeypatch.setattr("coach.ears.ears.time", blocks)
    blocks.perf_counter = blocks.now  # type: ignore[attr-defined]
    with Ears(Microphone(blocks)) as ears:
        while not ears.deaf:  # gone only once nothing comes any more
            time.sleep(0.01)
    assert len(ears.levels()) == 50
    assert ears.deaf_since == 100 * STANDS_S
    assert ears.deaf == "attic, the microphone, is gone"
