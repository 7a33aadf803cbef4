"""What the student says along a rehearsal: listened for place by place, and taken as taps."""

from __future__ import annotations

import time
from collections.abc import Sequence

from coach.callouts.cuesheet import CueSheet
from coach.debrief.answers import Answer, answers
from coach.ears.answers import Spoken
from coach.ears.ears import DEAF, MUTE, Ears
from coach.ears.places import PAUSED, Place, placed, places
from coach.flight.flight import Flight
from coach.sound.clip import Clip
from coach.sound.player import Player
from coach.taps.tap import Tap

ROOM_S = 0.5
"""Silence between that and the coach's next words, the device's delay in it; without so much room
it is not said."""

LOOK_BACK_S = 0.5
"""How far back a place is listened for that was come to since the last look; further back the
student has jumped to it."""

ORDERS = "Say “coach pause”, “coach start over”, “coach stop”, or press the keys."
GO_ON = "Say “coach go on”, “coach start over”, “coach stop”, or press the keys."

SILENT_S = 15.0
"""Where nothing but digital silence has come in for so long, the student is told. Not later in the
run: a microphone that takes noise away is quite silent until somebody speaks."""


class Listening:
    """One student's voice during a rehearsal."""

    def __init__(
        self, flight: Flight, sheet: CueSheet, ears: Ears, player: Player, greeting: str = ""
    ) -> None:
        """Listen with open ears to whoever rehearses with this player.

        Args:
            flight: what is flown.
            sheet: what the coach says when.
            ears: what hears.
            player: what plays.
            greeting: what to know of how one is heard, for the screen until the maneuver begins.
        """
        self._flight = flight
        self._sheet = sheet
        self._ears = ears
        self._player = player
        self._greeting = f"{greeting} {ORDERS}".strip()
        # When the microphone was first looked at; None once anything came in.
        self._mute_since: float | None = time.perf_counter()
        self._places = places(sheet, flight.moments)
        self._expected: list[Place] = []
        self._orders: list[str] = []
        # What was said at the latest place, which may come in parts.
        self._given: tuple[int, tuple[Tap, ...]] = (-1, ())
        self._reply = ""
        self._yes_s = (0.0, 0.0)

    @property
    def note(self) -> str:
        """One sentence that the student should read, or an empty text."""
        if self._ears.note:
            return self._ears.note
        if self._player.paused:
            return GO_ON
        if self._mute_since and time.perf_counter() - self._mute_since > SILENT_S:
            return f"{MUTE}{DEAF}"
        if self._player.position_s() < self._sheet.flight_start_s:
            return self._greeting
        return self._reply

    def push(self) -> None:
        """The talk key was pressed."""
        self._ears.push()

    def hear_out(self) -> None:
        """Have `heard_out` told once everything is understood that was begun by now."""
        self._ears.hear_out()

    @property
    def heard_out(self) -> bool:
        """Whether that is so."""
        return self._ears.heard_out

    def orders(self) -> list[str]:
        """Which of `coach.ears.grammar.ORDERS` were given since the last call."""
        given, self._orders = self._orders, []
        return given

    def follow(self, yes: Clip | None) -> list[Tap]:
        """Listen for what belongs here, and take what was said since the last call.

        Args:
            yes: said once everything that was asked is rightly answered, where there is room for
                it; None says nothing.
        """
        now = time.perf_counter()
        if any(level.power > 0.0 for level in self._ears.levels()):
            self._mute_since = None
        self._expect(now)
        found: list[Tap] = []
        for utterance in self._ears.utterances():
            place = self._expected[utterance.expected]
            position = self._player.position_s(utterance.start_s)
            spoken = placed(utterance, position, place, self._sheet)
            # In a room the coach hears its own "yes".
            if spoken is None or self._yes_s[0] <= utterance.start_s < self._yes_s[1]:
                continue
            if spoken.said.order:
                self._orders += [spoken.said.order] if spoken.sure else []
            elif place is not PAUSED:
                found += spoken.taps
                answered = self._is_answered(spoken, utterance.expected)
                if yes is not None and answered and self._has_room(yes):
                    self._player.interject(yes)
                    begun = time.perf_counter()
                    self._yes_s = (begun, begun + yes.length_s + ROOM_S)
        return found

    def _expect(self, now: float) -> None:
        position = self._player.position_s(now)
        place = PAUSED if self._player.paused else self._places.at(position)
        if not self._expected or place is not self._expected[-1]:
            ago = position - place.from_s
            self._ears.expect(place.grammar, now - (ago if ago <= LOOK_BACK_S else 0.0))
            self._expected.append(place)
            if place.question is not None:
                self._reply = ""

    def _is_answered(self, spoken: Spoken, expected: int) -> bool:
        """Whether with this all that a question asked for is said, and is right."""
        if spoken.question is None:
            return False
        moment = self._flight.moments[spoken.question]
        before = self._given[1] if self._given[0] == expected else ()
        self._given = (expected, (*before, *spoken.taps))
        given = answers(moment, self._given[1])
        is_right = bool(given) and all(answer.right for answer in given)
        self._reply = _reply(moment.name, given)
        return is_right and len(given) == len(moment.asks)

    def _has_room(self, yes: Clip) -> bool:
        here = self._player.position_s()
        phrases = (cue for cue in self._sheet.cues if cue.phrase is not None)
        next_s = next((cue.start_s for cue in phrases if cue.end_s > here), float("inf"))
        return here + yes.length_s + ROOM_S < next_s


def _reply(name: str, given: Sequence[Answer]) -> str:
    """What was understood, for the screen: ``"90: speed 80 where 63 belongs, bank 30."``."""
    if not given:
        return f"{name}: heard, but not understood."
    all_right = all(answer.right for answer in given)
    words = ", ".join(answer.words for answer in given)
    return f"{name}: {words}{', right' if all_right else ''}."
