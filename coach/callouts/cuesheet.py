"""The cue sheet: every phrase and tone of one rehearsal with its start, in seconds."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Phrase:
    """One thing the coach says.

    Attributes:
        text: for the eyes (captions, screen): ``"Bank 30, speed 62"``.
        spoken: for the voice: ``"bank thirty, speed sixty two"``.
    """

    text: str
    spoken: str


@dataclass(frozen=True)
class Cue:
    """One phrase or one tone at its place.

    Attributes:
        start_s: seconds from the start of the soundtrack.
        length_s: how long it sounds.
        phrase: what is said, or None for a tone.
        tone: the name of a file in ``audio_cues/`` without its ending, or None for a phrase.
    """

    start_s: float
    length_s: float
    phrase: Phrase | None = None
    tone: str | None = None

    @property
    def end_s(self) -> float:
        """Seconds from the start of the soundtrack to the cue's last sound."""
        return self.start_s + self.length_s


@dataclass(frozen=True)
class CueSheet:
    """Everything that is heard in one rehearsal.

    Attributes:
        cues: by start; phrases never overlap each other, a tone may sound under a phrase.
        dropped: the phrases that did not fit, each as a sentence saying which and where.
        flight_start_s: where on the soundtrack the maneuver begins (count-in before it).
        length_s: the whole soundtrack.
    """

    cues: tuple[Cue, ...]
    dropped: tuple[str, ...]
    flight_start_s: float
    length_s: float
