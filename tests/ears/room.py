"""A student in the room with the coach: the parts of a run that a test moves by hand."""

from __future__ import annotations

import queue
import threading
import time
from dataclasses import dataclass

import numpy as np

from coach.ears.ears import Ears, Level
from coach.ears.grammar import Grammar
from coach.ears.heard import Utterance
from coach.ears.segments import RATE, Samples
from coach.sound.clip import Clip
from coach.sound.player import Player

from .speakers import noise


class Mouth(Ears):
    """Ears that hear what a test says."""

    def __init__(self) -> None:
        self.note = ""
        self.said: list[Utterance] = []
        self.expected: list[tuple[Grammar, float]] = []
        self.power = 1.0

    def say(self, words: str, *, ago_s: float = 0.0, sure: float = 0.9) -> None:
        at = time.perf_counter() - ago_s
        self.said.append(Utterance(words, at, at + 0.5, len(self.expected) - 1, sure))

    def expect(self, grammar: Grammar, since: float) -> int:
        self.expected.append((grammar, since))
        return len(self.expected) - 1

    def utterances(self) -> list[Utterance]:
        found, self.said = self.said, []
        return found

    def levels(self) -> list[Level]:
        return [Level(time.perf_counter(), self.power, 0.0)]

    def hear_out(self) -> None:
        pass

    @property
    def heard_out(self) -> bool:
        return True


class Turntable(Player):
    """A player that is wherever a test puts it."""

    def __init__(self) -> None:
        self._stands = False
        self.said: list[Clip] = []
        self.put(0.0)

    def put(self, position_s: float) -> None:
        self._zero = time.perf_counter() - position_s

    def position_s(self, at: float | None = None) -> float:
        return (time.perf_counter() if at is None else at) - self._zero

    def interject(self, clip: Clip) -> None:
        self.said.append(clip)

    def pause(self) -> None:
        self._stands = True

    @property
    def paused(self) -> bool:
        return self._stands


@dataclass(frozen=True, eq=False)
class Block:
    """As a microphone hands it over."""

    at: float
    samples: Samples


class LateMicrophone:
    """What it hears comes in this many seconds later, as on a machine that is busy."""

    name = "late"
    rate = RATE
    alive = True

    def __init__(self, late_s: float) -> None:
        self.blocks: queue.SimpleQueue[Block] = queue.SimpleQueue()
        self._late_s = late_s
        self._said: tuple[float, Samples] = (0.0, np.zeros(0, np.float32))
        self._closed = threading.Event()
        self._thread = threading.Thread(target=self._hear, daemon=True)

    def say(self, samples: Samples) -> None:
        """Something is said in the room now; only once."""
        self._said = (time.perf_counter(), samples)

    def start(self) -> None:
        self._thread.start()

    def close(self) -> None:
        self._closed.set()
        self._thread.join()

    def _hear(self) -> None:
        quiet = np.asarray(0.0005 * noise("fan", RATE // 20), np.float32)
        at = time.perf_counter() - self._late_s
        while not self._closed.wait(0.01):
            while at + len(quiet) / RATE + self._late_s < time.perf_counter():
                begun, said = self._said
                first = round((at - begun) * RATE)
                block = quiet.copy()
                part = said[max(0, first) : max(0, first + len(quiet))]
                block[max(0, -first) :][: len(part)] += part
                self.blocks.put(Block(at, block))
                at += len(quiet) / RATE
