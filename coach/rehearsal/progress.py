"""Where a run stands, and how it ended: what is shown and told of it."""

from __future__ import annotations

from dataclasses import dataclass, field

from coach.callouts.cuesheet import CueSheet
from coach.rehearsal.moving import Live
from coach.taps.tap import Tap
from coach.taps.unheard import Unheard


@dataclass
class Progress:
    """Where a run stands, for whoever shows it.

    Attributes:
        sheet: what is said when, as far as it is known.
        position_s: what is heard now, on the soundtrack.
        taps: what each student did so far.
        unheard: where a student who is heard could not be perceived so far.
        paused: the student has paused it, or the sound device is gone.
        finished: the last moment is over.
        hand: how the student's hand stands; None where none flies along.
        message: one sentence to the student, or an empty text.
    """

    sheet: CueSheet
    position_s: float = 0.0
    taps: dict[str, list[Tap]] = field(default_factory=dict)
    unheard: list[Unheard] = field(default_factory=list)
    paused: bool = False
    finished: bool = False
    hand: Live | None = None
    message: str = ""


@dataclass(frozen=True)
class Done:
    """How a run ended.

    Attributes:
        finished: whether it was flown to its end.
        numbers: in the logbook, of each student's last run that came to its first checkpoint, which
            is an earlier attempt where they started over and stopped at once.
        note: one sentence on what went wrong with the sound, or an empty text.
        left: the student wants nothing more (Ctrl-C), or the terminal is gone.
    """

    finished: bool
    numbers: tuple[int, ...]
    note: str
    left: bool = False
