"""What every recogniser takes and gives."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from coach.ears.grammar import Grammar
from coach.ears.segments import Segment


@dataclass(frozen=True)
class Heard:
    """The words in a stretch of sound.

    Attributes:
        words: in lower case, a sentence of the grammar.
        start_s: when the first word begins, from the first sample.
        end_s: when the last one ends.
        sure: from 0 to 1, as `coach.ears.utterance.Utterance` has it.
    """

    words: str
    start_s: float
    end_s: float
    sure: float


class Recogniser(Protocol):
    """Makes words of sound, where it knows what may be said."""

    def learn(self, grammar: Grammar) -> tuple[str, ...]:
        """Make ready for a grammar, so that nothing is left to do when somebody speaks.

        Returns:
            Words that it will not recognise, since it does not know their sound.
        """

    def hear(self, segment: Segment, grammar: Grammar) -> Heard | None:
        """The likeliest sentence of a grammar that was learnt; None where none fits at all."""
