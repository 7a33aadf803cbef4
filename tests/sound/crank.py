"""Devices without a loudspeaker, which ask when the test says so."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from coach.sound.backends import Fill
from coach.sound.feed import Source
from coach.sound.player import Player
from coach.sound.timekeeper import Timekeeper


class HandCranked:
    """A device that asks when the test says so."""

    name = "crank"

    def __init__(self) -> None:
        self.alive = True

    def start(self) -> None: ...

    def close(self) -> None: ...


class Room:
    """Where devices are looked for: the test puts one in."""

    def __init__(self) -> None:
        self.device: HandCranked | None = None

    def __call__(self, fill: Fill, missed_s: float) -> HandCranked | None:
        found, self.device = self.device, None
        return found


class Standing(Timekeeper):
    """Time that stands still, while what is done beside the test is done in threads as ever.

    However long the test is halted, the device that it cranks does not ask too late.
    """

    def now(self) -> float:
        return 1000.0


def until(true: Callable[[], bool], limit_s: float = 60.0) -> None:
    deadline = time.monotonic() + limit_s
    while not true():
        assert time.monotonic() < deadline
        time.sleep(0.005)


def soon(player: Player, true: Callable[[], bool]) -> None:
    """Let the player's time go by until something is so; on a machine's own it is waited for."""
    deadline = time.monotonic() + 60.0
    while not true():
        assert time.monotonic() < deadline
        player.timekeeper.sleep(0.005)


def take(player: Player, count: int) -> list[float]:
    out = np.full((count, 2), np.nan, dtype=np.float32)
    player.fill(out, 0.0)
    np.testing.assert_array_equal(out[:, 0], out[:, 1])
    return [float(value) for value in out[:, 0]]


Cranked = Callable[[Source], Player]
