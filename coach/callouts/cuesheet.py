"""The cue sheet: every phrase and tone of one rehearsal with its start, in seconds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from coach.callouts.support import Support
from coach.script.asked import Asked

if TYPE_CHECKING:  # the command line reads this file, and numpy takes long
    from coach.flight.history import Floats
    from coach.flight.moment import Moment


@dataclass(frozen=True)
class Phrase:
    """One thing the coach says.

    Attributes:
        text: for the eyes (captions, screen): ``"Bank 30, speed 62"``.
        spoken: for the voice: ``"bank thirty, speed sixty two"``.
        lands: those of the spoken words that must be heard on the phrase's moment: the name of its
            checkpoint; "" where the phrase has none.
    """

    text: str
    spoken: str
    lands: str = ""


@dataclass(frozen=True)
class Measure:
    """What a voice makes of a phrase, in seconds.

    Attributes:
        length_s: how long it sounds.
        lands_s: from its start to the first sound of the words that land; 0 where it has none.
    """

    length_s: float
    lands_s: float = 0.0


@dataclass(frozen=True)
class Cue:
    """One phrase or one tone at its place.

    Attributes:
        start_s: seconds from the start of the soundtrack.
        length_s: how long it sounds.
        phrase: what is said, or None for a tone.
        tone: the name of a file in ``audio_cues/`` without its ending, or None for a phrase.
        moment: index in the flight's moments of the checkpoint that it names, asks about or marks;
            None for all else.
        gap_s: silence kept after it for the student's answer; above 0 makes it a question.
        asks: the numbers that a question asks for.
    """

    start_s: float
    length_s: float
    phrase: Phrase | None = None
    tone: str | None = None
    moment: int | None = None
    gap_s: float = 0.0
    asks: tuple[Asked, ...] = ()

    @property
    def end_s(self) -> float:
        """Seconds from the start of the soundtrack to the cue's last sound."""
        return self.start_s + self.length_s


@dataclass(frozen=True, eq=False)
class Course:
    """What the airplane does along the soundtrack, for the ear; columns of one length.

    Attributes:
        time_s: increasing, on the soundtrack's clock.
        speed_kt: indicated airspeed.
        power: share of rated power.
        rudder: the rudder that the model asks for, right positive; 1 is the most.
        margin_kt: indicated airspeed above the stall speed at this load factor.
    """

    time_s: Floats
    speed_kt: Floats
    power: Floats
    rudder: Floats
    margin_kt: Floats


@dataclass(frozen=True)
class CueSheet:
    """Everything that is heard in one rehearsal.

    Attributes:
        cues: by start; phrases never overlap each other, a tone may sound under a phrase.
        dropped: the phrases that did not fit, each as a sentence saying which and where.
        flight_start_s: where on the soundtrack the maneuver begins (count-in before it).
        length_s: the whole soundtrack.
        pace: seconds of flight in a second of the soundtrack: 1 is the airplane's own tempo, 0.5
            half of it.
        support: how much the coach says.
        course: what the airplane does.
    """

    cues: tuple[Cue, ...]
    dropped: tuple[str, ...]
    flight_start_s: float
    length_s: float
    pace: float
    support: Support
    course: Course

    def flight_s(self, position_s: float) -> float:
        """Seconds on the flight's clock at a position of the soundtrack; negative before it."""
        return (position_s - self.flight_start_s) * self.pace

    def asked(self, moment: int) -> tuple[Asked, ...]:
        """The numbers that are asked for at a checkpoint; none where no question had room."""
        return next((cue.asks for cue in self.cues if cue.gap_s and cue.moment == moment), ())

    def asking(self, moments: Sequence[Moment]) -> tuple[Moment, ...]:
        """The checkpoints with the numbers for which there was room to ask, where it asks."""
        if not any(cue.gap_s for cue in self.cues):
            return tuple(moments)
        return tuple(replace(one, asks=self.asked(index)) for index, one in enumerate(moments))

    def position_s(self, flight_s: float) -> float:
        """Where on the soundtrack a moment of the flight lies."""
        return self.flight_start_s + flight_s / self.pace
