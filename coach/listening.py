"""What the student says along a rehearsal: listened for place by place, and taken as taps."""

from __future__ import annotations

import time

from coach.callouts.cuesheet import CueSheet
from coach.ears.answers import Spoken, taps
from coach.ears.ears import Ears
from coach.ears.places import Place, placed, places
from coach.flight.asked import is_right, right
from coach.flight.flight import Flight
from coach.sound.clip import Clip
from coach.sound.player import Player
from coach.taps.tap import Tap

ROOM_S = 0.5
"""Silence between that and the coach's next words, the device's delay in it; without so much room
it is not said."""


class Listening:
    """One student's voice during a rehearsal."""

    def __init__(self, flight: Flight, sheet: CueSheet, ears: Ears, player: Player) -> None:
        """Listen with open ears to whoever rehearses with this player."""
        self._flight = flight
        self._sheet = sheet
        self._ears = ears
        self._player = player
        self._places = places(sheet, flight.moments)
        self._expected: list[Place] = []

    @property
    def note(self) -> str:
        """One sentence that the student should read, or an empty text."""
        return self._ears.note

    def push(self) -> None:
        """The talk key was pressed."""
        self._ears.push()

    def follow(self, yes: Clip | None) -> list[Tap]:
        """Listen for what belongs here, and take what was said since the last call.

        Args:
            yes: said to a right answer where there is room for it; None says nothing.
        """
        now = time.perf_counter()
        place = self._places.at(self._player.position_s(now))
        if not self._expected or place is not self._expected[-1]:
            self._ears.expect(place.grammar, now)
            self._expected.append(place)
        found: list[Tap] = []
        for utterance in self._ears.utterances():
            position = self._player.position_s(utterance.start_s)
            where = self._expected[utterance.expected]
            spoken = placed(utterance, position, where, self._sheet)
            if spoken is None:
                continue
            if yes is not None and self._is_right(spoken) and self._has_room(yes):
                self._player.interject(yes)
            found += taps(self._flight.moments, [spoken])
        return found

    def _is_right(self, spoken: Spoken) -> bool:
        if spoken.question is None or not spoken.sure or not spoken.said.values:
            return False
        true = right(self._flight.moments[spoken.question])
        return all(
            asked in true and is_right(asked, value, true[asked])
            for asked, value in spoken.said.values.items()
        )

    def _has_room(self, yes: Clip) -> bool:
        here = self._player.position_s()
        phrases = (cue for cue in self._sheet.cues if cue.phrase is not None)
        next_s = next((cue.start_s for cue in phrases if cue.end_s > here), float("inf"))
        return here + yes.length_s + ROOM_S < next_s
