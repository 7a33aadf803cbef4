"""What a student said at its place, and what it comes to for the rest of the coach."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from coach.ears.grammar import Meaning
from coach.taps.tap import UNCLEAR, Tap

Due = Literal["now", "too soon", "too late", "not at all"]
"""When it was said, as far as the coach asked for it: before its question, after the answer was
told, or where nothing is asked."""


@dataclass(frozen=True)
class Spoken:
    """An utterance at its place.

    Attributes:
        at_s: when its first word began, in seconds on the flight's clock.
        said: what it means.
        sure: whether the recogniser is sure of it.
        question: index of the checkpoint whose question it answers, or None.
        hesitation_s: the student's own seconds from the end of that question, 0 where the coach
            still asked; None without a question.
        due: what is not due now is shown to the student, and counts for nothing.
    """

    at_s: float
    said: Meaning
    sure: bool = True
    question: int | None = None
    hesitation_s: float | None = None
    due: Due = "now"

    @property
    def taps(self) -> tuple[Tap, ...]:
        """A tap for each checkpoint that was named and for each number; for an order there is none.

        What the recogniser is unsure of is one that says just that.
        """
        if self.said.order or self.due != "now":
            return ()
        if not self.sure:
            return (Tap(self.at_s, None, "voice", self.hesitation_s, UNCLEAR),)
        named = [Tap(self.at_s, None, "voice", None, name) for name in self.said.names]
        numbers = [
            Tap(self.at_s, value, "voice", self.hesitation_s, asked)
            for asked, value in self.said.values.items()
        ]
        return (*named, *numbers)
