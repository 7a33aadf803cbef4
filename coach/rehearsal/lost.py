"""What could not be perceived of a student in a run, stretch by stretch as the run goes on."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence

from coach.callouts.cuesheet import CueSheet
from coach.ears.ears import Ears
from coach.ears.own_voice import Stretch, covered
from coach.ears.utterance import LOUD_DB
from coach.sound.player import Player
from coach.taps.unheard import Unheard, Why

SILENT_S = 15.0
"""Where nothing but digital silence has come in for so long, the student is told. Not later in the
run: a microphone that takes noise away is quite silent until somebody speaks."""

_PIECE_S = 5.0
"""What has no end yet is handed on in pieces, so that a run that is broken off knows of it."""

_BACK_S = 1.0
"""The student has started over where the run stands so much earlier than before."""


class Lost:
    """The stretches in which one student's voice was lost; positions are on the soundtrack.

    Args:
        sheet: what the coach says when.
        ears: what hears.
        player: what plays.
        awaited: where something ought to be said.
    """

    def __init__(
        self, sheet: CueSheet, ears: Ears, player: Player, awaited: Sequence[Stretch] = ()
    ) -> None:
        self._awaited = awaited
        self._sheet = sheet
        self._ears = ears
        self._player = player
        # When the microphone was first looked at; None once anything came in.
        self._mute_since: float | None = player.timekeeper.now()
        self._begin()

    def _begin(self) -> None:
        self._found: list[Unheard] = []
        # Where the coach itself is heard, as far as that is still to be told.
        self._coming = [*covered(self._sheet)] if self._ears.hears_coach else []
        self._replies: list[Stretch] = []
        self._here_s = self._mute_s = 0.0
        self._deaf = self._over = False
        # Where nothing that ought to be there has been heard so far, and how far what was heard
        # stood out of the room.
        self._silent = [*self._awaited]
        self._stood_out: list[float] = []

    @property
    def is_mute(self) -> bool:
        """Whether nothing but digital silence has come in, and for long."""
        since = self._mute_since
        return since is not None and self._player.timekeeper.now() - since > SILENT_S

    def follow(self, position_s: float) -> None:
        """See how far the run is, and whether anything comes in."""
        if position_s < self._here_s - _BACK_S:
            self._begin()
        self._here_s = position_s
        if any(level.power > 0.0 for level in self._ears.levels()):
            self._mute_since = None

    def replied(self, begin_s: float, end_s: float) -> None:
        """The coach says something beside its sheet, from one position to another."""
        if self._ears.hears_coach:
            self._replies.append((begin_s, end_s))
            self._coming.append((begin_s, end_s))

    def is_reply(self, position_s: float) -> bool:
        """Whether what begins there may be the coach's own reply."""
        return any(begin <= position_s < end for begin, end in self._replies)

    def is_under_reply(self, begin_s: float, end_s: float) -> bool:
        """Whether a part of what was said there may lie under the coach's own reply."""
        return any(begin < end_s and begin_s < end for begin, end in self._replies)

    def heard(self, begin_s: float, end_s: float, stands_out_db: float) -> None:
        """A voice was heard from one position to another, standing out so far of the room."""
        self._stood_out.append(stands_out_db)
        self._silent = [one for one in self._silent if not (one[0] < end_s and begin_s < one[1])]

    @property
    def _is_loud(self) -> bool:
        """Whether this student's voice stands out of this room too little to be missed for sure."""
        return statistics.median(self._stood_out or [math.inf]) < LOUD_DB

    def add(self, begin_s: float, end_s: float, why: Why) -> None:
        """What was said from one position to another was not perceived."""
        from_s, to_s = (self._sheet.flight_s(at) for at in (begin_s, end_s))
        if max(0.0, from_s) < to_s:
            self._found.append(Unheard(max(0.0, from_s), to_s, why))

    def taken(self, *, over: bool) -> list[Unheard]:
        """The stretches since the last call, as far as the run has got.

        Args:
            over: the run is over: what goes on now ends here.
        """
        here_s, position_s = self._here_s, self._player.position_s
        if self._over or here_s <= self._sheet.flight_start_s:
            return []  # before the first moment there is no run to keep it with
        for begin, end in [*self._coming]:
            if end <= here_s or (over and begin < here_s):
                self.add(begin, min(end, here_s), "the coach spoke")
                self._coming.remove((begin, end))
        if self.is_mute and (over or here_s - self._mute_s >= _PIECE_S):
            self.add(self._mute_s, here_s, "no microphone")
            self._mute_s = here_s
        heard_until = self._ears.deaf_since
        if heard_until is not None and not self._deaf:
            self.add(position_s(heard_until), self._sheet.length_s, "no microphone")
            self._deaf = True
        self._silence(over=over)
        self._over = over
        if over:
            until_s = here_s if heard_until is None else position_s(heard_until)
            self.add(position_s(self._ears.understood_to), until_s, "the ears were busy")
        found, self._found = self._found, []
        return sorted(found, key=lambda one: one.from_s)

    def _silence(self, *, over: bool) -> None:
        """Where silence does not say that nothing was said."""
        here_s = self._here_s
        is_awaited = any(begin < here_s for begin, _ in self._awaited)
        if over and is_awaited and not self._stood_out and not self._mute_s:
            self.add(self._sheet.flight_start_s, here_s, "nothing was heard")
        if not self._is_loud or self._ears.pushed:
            return
        known_s = min(here_s, self._player.position_s(self._ears.understood_to))
        for begin, end in [*self._silent]:
            if end <= known_s or (over and begin < here_s):
                self.add(begin, min(end, here_s), "the room was loud")
                self._silent.remove((begin, end))
