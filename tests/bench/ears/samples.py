"""What is said, by whom and in which room: the same samples for every recogniser that is measured."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import islice
from typing import Generic, Protocol, TypeVar

import numpy as np

from coach.ears.grammar import Grammar
from coach.ears.segments import RATE, Samples
from tests.ears.attempts import Attempt, as_pilot, attempts
from tests.ears.speakers import FRESH, NOISES, missing, noise, say

VOICE_LEVEL = 0.05
"""Of what is loud in a phrase, as `say` gives it."""

ROOM_LEVEL = VOICE_LEVEL * 10 ** (-45 / 20)

FIRST_S = 5.0
"""A microphone has heard the room before anybody speaks."""

BEFORE_S = 1.5
"""Since when a phrase is listened for; and so long it is quiet at least between two of them."""

BETWEEN_S = 4.0
_NOISE_S = 300.0
SEED = 151

SETS: Mapping[str, Callable[[int], Iterator[Attempt]]] = {
    "own": lambda seed: attempts("answer", seed),
    "pilots": lambda seed: attempts("answer", seed, as_pilot),
}
"""The project's own ways to say a number, and those that were collected from pilots."""

ROOMS = ("quiet", *(f"{kind} {distance}" for kind in NOISES for distance in (20, 10, 5)))
"""A noise, and how many dB it lies below the voice."""


class Said(Protocol):
    """Something to say."""

    @property
    def words(self) -> str:
        """As a voice speaks them."""

    @property
    def grammar(self) -> Grammar:
        """What is listened for there."""


T = TypeVar("T", bound=Said)


@dataclass(frozen=True, eq=False)
class Recording(Generic[T]):
    """Everything that one voice says in one room, one phrase after the other.

    Attributes:
        voice: who speaks.
        tries: what is said, by its number.
        starts_s: when each phrase begins.
        ends_s: when it is over.
        sound: float32 at `RATE`.
    """

    voice: str
    tries: Mapping[int, T]
    starts_s: Sequence[float]
    ends_s: Sequence[float]
    sound: Samples

    @property
    def expected(self) -> list[tuple[float, Grammar]]:
        """What is listened for, and since when."""
        tries = self.tries.values()
        return [(at - BEFORE_S, one.grammar) for at, one in zip(self.starts_s, tries, strict=True)]


def tries(kind: str, count: int) -> list[Attempt]:
    """The first so many of a set; fewer of them are the beginning of more."""
    dice = random.Random(SEED)

    def drawn() -> Iterator[Attempt]:
        seed = SEED
        while True:
            some = list(SETS[kind](seed))
            dice.shuffle(some)
            yield from some
            seed += 1

    return list(islice(drawn(), count))


def recordings(kind: str, room: str, count: int) -> Iterator[Recording[Attempt]]:
    """One for each of the fresh voices that are installed, which take turns through the set."""
    wanted = tries(kind, count)
    for number, (voice, rate) in enumerate(FRESH):
        own = dict(enumerate(wanted))
        own = {at: own[at] for at in range(number, count, len(FRESH))}
        if own and not missing(voice):
            yield recording(voice, rate, own, room, number)


def recording(
    voice: str, rate: int, own: Mapping[int, T], room: str, number: int = 0
) -> Recording[T]:
    """These phrases in a room.

    Args:
        voice: who says them.
        rate: words a minute.
        own: the phrases, by their number.
        room: one of `ROOMS`.
        number: the voice's own, for each hears another part of the noise.
    """
    said = [say(one.words, voice, rate) for one in own.values()]
    starts, at = [], FIRST_S
    for one in said:
        starts.append(at)
        at += len(one) / RATE + BETWEEN_S
    sound = in_room(np.zeros(round(at * RATE), np.float32), room, number)
    for start, one in zip(starts, said, strict=True):
        sound[round(start * RATE) : round(start * RATE) + len(one)] += one
    ends = [start + len(one) / RATE for start, one in zip(starts, said, strict=True)]
    return Recording(voice, own, starts, ends, sound)


def in_room(sound: Samples, room: str, number: int = 0) -> Samples:
    """A sound with the room's noise around it."""
    kind, _, distance = room.partition(" ")
    shift = 23 * number * RATE
    heard = sound + ROOM_LEVEL * np.resize(np.roll(_noise("fan"), -shift), len(sound))
    if kind != "quiet":
        level = VOICE_LEVEL * 10 ** (-float(distance) / 20)
        heard += level * np.resize(np.roll(_noise(kind), -shift), len(sound))
    return np.asarray(heard, np.float32)


@cache
def _noise(kind: str) -> Samples:
    """As long whatever is said in it, so that a phrase is always heard in the same part of it."""
    return noise(kind, round(_NOISE_S * RATE))
