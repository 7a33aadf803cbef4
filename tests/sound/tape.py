"""Something to play that is known frame by frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from coach.sound.clip import RATE, Samples


@dataclass(frozen=True)
class Tape:
    """A mono row of samples, the same on both sides; see :class:`coach.sound.feed.Source`.

    Attributes:
        samples: float32.
        whole: whether that is all.
    """

    samples: Samples
    whole: bool = True

    @property
    def length(self) -> int:
        """How many frames there are."""
        return len(self.samples)

    def frames(self, start: int, count: int) -> Samples:
        """Frames by two channels."""
        return np.repeat(self.samples[start : start + count, np.newaxis], 2, axis=1)


def ramp(seconds: float) -> Tape:
    """Every sample another, none of them zero."""
    count = round(seconds * RATE)
    return Tape((np.arange(1, count + 1) / (2 * count)).astype(np.float32))


def noise(seconds: float) -> Tape:
    """The same noise every time; a moment of it is like no other."""
    random = np.random.default_rng(8)
    return Tape(random.uniform(-0.3, 0.3, round(seconds * RATE)).astype(np.float32))
