"""A hand joined to a run at this machine: its phone's readings are taken, and it is told things."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, Protocol

from coach.callouts.cuesheet import CueSheet
from coach.hand.grip import Grip
from coach.hand.motion import Motion
from coach.hand.readings import Readings
from coach.rehearsal.moving import Live, Moving
from coach.rehearsal.ready import Rehearsal
from coach.sound.clip import Clip
from coach.sound.player import Player
from coach.sound.tones import tone

SOFT = 0.35
"""The tone of a hand that is off, as a share of any other tone."""

AGAIN_S = 2.0
"""How long after it began it comes again."""

Stage = Literal["joined", "level", "flying", "paused", "over"]
"""Where the rehearsal stands, for a hand: it waits, is counted in, is flown, stands, has ended."""


class Moved(Protocol):
    """A phone that is the hand: `coach.page.hand.pairing.Pairing`, or anything alike."""

    @property
    def joined(self) -> bool:
        """Whether it has ever come."""

    @property
    def grip(self) -> Grip:
        """How it is held."""

    @property
    def doubt_s(self) -> float:
        """The most that its readings' times may be off."""

    @property
    def trouble(self) -> str:
        """What is wrong with it, a sentence; "" where all is well."""

    def readings(self) -> Iterable[Readings]:
        """What came since the last call, on `time.perf_counter`."""

    def move(self, stage: Stage) -> None:
        """Show where the rehearsal stands."""


class Steering:
    """The hand of a student who is alone in a run.

    Attributes:
        live: how it stands now; None where no phone has ever come.
    """

    def __init__(
        self, moved: Moved, rehearsal: Rehearsal, player: Player, tone_deg: float = 0.0
    ) -> None:
        """Nothing is read yet.

        Args:
            moved: the phone.
            rehearsal: what is flown; an opening is enough.
            player: what plays it.
            tone_deg: a hand that is further off the plan hears a soft tone; 0 for never.
        """
        self.live: Live | None = None
        self._moved = moved
        self._player = player
        self._tone_deg = tone_deg
        self._sheet: CueSheet = rehearsal.sheet
        self._moving = Moving(rehearsal, moved.grip, tone_deg)
        self._told_s: float | None = None

    @property
    def trouble(self) -> str:
        """What is wrong with it, a sentence, or ""."""
        return self._moved.trouble

    def join(self, whole: Rehearsal) -> None:
        """Go on with the whole of what was begun with its opening."""
        self._sheet = whole.sheet
        self._moving = Moving(whole, self._moving.grip, self._tone_deg)

    def restart(self) -> None:
        """The student starts over."""
        self._moving.restart(self._player.timekeeper.now())

    def follow(self) -> Motion:
        """Take what was read, and tell the phone where the run stands.

        Returns:
            What is to be kept of it.
        """
        moved = self._moved
        new = self._moving.follow(moved.grip, moved.readings(), self._heard_s, moved.doubt_s)
        now_s = self._player.timekeeper.now()
        self.live = self._moving.live(now_s) if moved.joined else None
        moved.move(self._stage)
        if self.live is not None and self.live.off and not self._player.paused:
            self._tell(now_s)
        return new

    def _heard_s(self, at_s: float) -> float | None:
        """What was heard then; None where the sound stood."""
        return self._player.position_s(at_s) if self._player.clock.plays(at_s) else None

    @property
    def _stage(self) -> Stage:
        if self._player.finished:
            return "over"
        if self._player.paused:
            return "paused"
        flown_s = self._sheet.flight_s(self._player.position_s())
        return "level" if flown_s < 0.0 else "flying"

    def _tell(self, now_s: float) -> None:
        """Let the tone be heard, where nothing else is and the student is not to say anything."""
        if self._told_s is not None and now_s - self._told_s < AGAIN_S:
            return
        clip = tone("off")
        position_s = self._player.position_s()
        if all(
            position_s + clip.length_s <= cue.start_s or cue.end_s + cue.gap_s <= position_s
            for cue in self._sheet.cues
        ):
            self._player.interject(Clip(clip.samples * SOFT))
            self._told_s = now_s
