"""What a student said at its place, and what it comes to for the rest of the coach."""

from __future__ import annotations

from dataclasses import dataclass

from coach.ears.grammar import Meaning
from coach.taps.tap import UNCLEAR, Tap


@dataclass(frozen=True)
class Spoken:
    """An utterance at its place.

    Attributes:
        at_s: when its first word began, in seconds on the flight's clock.
        said: what it means.
        sure: whether the recogniser is sure of it.
        question: index of the checkpoint whose question it follows, or None.
        hesitation_s: the student's own seconds from the end of that question, or None.
    """

    at_s: float
    said: Meaning
    sure: bool = True
    question: int | None = None
    hesitation_s: float | None = None

    @property
    def taps(self) -> tuple[Tap, ...]:
        """A tap for each checkpoint that was named and for each number; for an order there is none.

        What the recogniser is unsure of is one that says just that.
        """
        if self.said.order:
            return ()
        if not self.sure:
            return (Tap(self.at_s, None, "voice", self.hesitation_s, UNCLEAR),)
        named = [Tap(self.at_s, None, "voice", None, name) for name in self.said.names]
        numbers = [
            Tap(self.at_s, value, "voice", self.hesitation_s, asked)
            for asked, value in self.said.values.items()
        ]
        return (*named, *numbers)
