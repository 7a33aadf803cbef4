"""A student in the room with the coach: the parts of a run that a test moves by hand."""

from __future__ import annotations

import math
import queue
import threading
import time
from dataclasses import dataclass
from typing import Any

import numpy as np

from coach.callouts.cuesheet import Phrase
from coach.callouts.replies import replies
from coach.ears.ears import Ears
from coach.ears.grammar import Grammar
from coach.ears.levels import Level
from coach.ears.segments import RATE, Samples
from coach.ears.utterance import Utterance
from coach.rehearsal.listening import Listening
from coach.rehearsal.ready import Rehearsal
from coach.sound.clip import RATE as FULL_RATE
from coach.sound.clip import Clip
from coach.sound.player import Player
from coach.sound.soundtrack import Sound, mix
from coach.sound.timekeeper import MACHINE, Timekeeper
from tests.sound.hurried import Hurried

from .speakers import noise, say
from .students import Rehearsed


class Mouth(Ears):
    """Ears that hear what a test says."""

    def __init__(self, timekeeper: Timekeeper = MACHINE) -> None:
        self.deaf = self._note = ""
        self.deaf_since: float | None = None
        self.pushed = False
        self.behind_s = 0.0
        self.timekeeper = timekeeper
        self.said: list[Utterance] = []
        self.expected: list[tuple[Grammar, float]] = []
        self.power = 1.0
        self.in_a_room = False

    def say(
        self,
        words: str,
        *,
        ago_s: float = 0.0,
        sure: float = 0.9,
        long_s: float = 0.5,
        whole: bool = True,
        stands_out_db: float = 40.0,
    ) -> None:
        at = self.timekeeper.now() - ago_s
        expected = len(self.expected) - 1
        self.said.append(Utterance(words, at, at + long_s, expected, sure, whole, stands_out_db))

    def expect(self, grammar: Grammar, since: float) -> int:
        self.expected.append((grammar, since))
        return len(self.expected) - 1

    def utterances(self) -> list[Utterance]:
        found, self.said = self.said, []
        return found

    def levels(self) -> list[Level]:
        return [Level(self.timekeeper.now(), self.power, 0.0)]

    @property
    def hears_coach(self) -> bool:
        return self.in_a_room

    def hear_out(self) -> None:
        pass

    @property
    def heard_out(self) -> bool:
        return True

    @property
    def understood_to(self) -> float:
        return self.timekeeper.now() - self.behind_s


class Turntable(Player):
    """A player that is wherever a test puts it, and stays there until the test lets time pass."""

    def __init__(self) -> None:
        self.timekeeper = Hurried()
        self._stands = False
        self.said: list[Clip] = []
        self.left_out: list[Sound] = []
        self.put(0.0)

    def put(self, position_s: float) -> None:
        self._zero = self.timekeeper.now() - position_s

    def position_s(self, at: float | None = None) -> float:
        return (self.timekeeper.now() if at is None else at) - self._zero

    def interject(self, clip: Clip, instead_of: Sound | None = None) -> None:
        self.said.append(clip)
        self.left_out += [instead_of] if instead_of is not None else []

    def pause(self) -> None:
        self._stands = True

    @property
    def paused(self) -> bool:
        return self._stands


class Room:
    """At a place of a rehearsal."""

    def __init__(
        self,
        rehearsal: Rehearsal,
        position_s: float,
        power: float = 1.0,
        *,
        in_a_room: bool = False,
    ) -> None:
        self.player = Turntable()
        self.mouth = Mouth(self.player.timekeeper)
        self.mouth.power, self.mouth.in_a_room = power, in_a_room
        self.listening = Listening(rehearsal, self.mouth, self.player)
        self.go(position_s)

    def go(self, position_s: float) -> None:
        self.player.put(position_s)
        self.listening.follow()

    def say(self, words: str, **how: Any) -> list[float | None]:
        """The values of the taps that the words come to."""
        self.mouth.say(words, **how)
        return [tap.value for tap in self.listening.follow()]


def rehearsal(rehearsed: Rehearsed, coach: str = "en-us+m1") -> Rehearsal:
    """The same with silent phrases, as long as that voice makes them."""

    def silent(phrase: Phrase) -> Clip:
        return Clip(np.zeros(len(say(phrase.spoken, coach)) * FULL_RATE // RATE, np.float32))

    sheet, answers = rehearsed.sheet, replies(rehearsed.flight)
    clips = {cue.phrase.spoken: silent(cue.phrase) for cue in sheet.cues if cue.phrase}
    found = {wrong: silent(phrase) for wrong, phrase in answers.items()}
    return Rehearsal(rehearsed.flight, {}, sheet, mix(sheet, clips), None, found)


@dataclass(frozen=True, eq=False)
class Block:
    """As a microphone hands it over."""

    at: float
    samples: Samples


class LateMicrophone:
    """What it hears comes in this many seconds later, as on a machine that is busy.

    What is said begins with a block of the noise, so that it is the same sound each time: laid over
    the noise somewhere else, now and then other words would be understood.
    """

    name = "late"
    rate = RATE
    alive = True

    def __init__(self, late_s: float) -> None:
        self.blocks: queue.SimpleQueue[Block] = queue.SimpleQueue()
        self._late_s = late_s
        self._said: tuple[float, Samples] = (math.inf, np.zeros(0, np.float32))
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
                since, said = self._said
                block = quiet.copy()
                if at >= since:
                    part, rest = said[: len(quiet)], said[len(quiet) :]
                    block[: len(part)] += part
                    self._said = since, rest
                self.blocks.put(Block(at, block))
                at += len(quiet) / RATE
