"""What the student says along a rehearsal: listened for passage by passage, and taken as taps."""

from __future__ import annotations

from collections.abc import Sequence

from coach.debrief.answers import Answer, answers
from coach.ears.ears import DEAF, MUTE, Ears
from coach.ears.passages import PAUSED, Passage, passages, placed
from coach.ears.spoken import Spoken
from coach.rehearsal.ready import Rehearsal
from coach.sound.clip import Clip
from coach.sound.player import Player
from coach.taps.order import Order
from coach.taps.tap import Tap

ROOM_S = 0.5
"""Silence between a reply and the coach's next words, the device's delay in it; without so much
room it is not said."""

LOOK_BACK_S = 0.5
"""How far back a passage is listened for that was come to since the last look; further back the
student has jumped to it."""

TO_ORDER = "Say “coach pause”, “coach start over”, “coach stop”, or press the keys."
GO_ON = "Say “coach go on”, “coach start over”, “coach stop”, or press the keys."

SILENT_S = 15.0
"""Where nothing but digital silence has come in for so long, the student is told. Not later in the
run: a microphone that takes noise away is quite silent until somebody speaks."""


class Listening:
    """One student's voice during a rehearsal."""

    def __init__(
        self, rehearsal: Rehearsal, ears: Ears, player: Player, greeting: str = ""
    ) -> None:
        """Listen with open ears to whoever rehearses with this player.

        Args:
            rehearsal: what is flown, and what the coach says.
            ears: what hears.
            player: what plays.
            greeting: what to know of how one is heard, for the screen until the maneuver begins.
        """
        self._rehearsal = rehearsal
        self._sheet = rehearsal.sheet
        self._ears = ears
        self._player = player
        self._greeting = f"{greeting} {TO_ORDER}".strip()
        # When the microphone was first looked at; None once anything came in.
        self._mute_since: float | None = player.timekeeper.now()
        self._passages = passages(rehearsal.sheet, rehearsal.flight.moments)
        self._expected: list[Passage] = []
        self._orders: list[Order] = []
        # What was said at the latest passage, which may come in parts.
        self._given: tuple[int, tuple[Tap, ...]] = (-1, ())
        self._understood = ""
        self._replying_s = (0.0, 0.0)

    @property
    def note(self) -> str:
        """One sentence that the student should read, or an empty text."""
        if self._ears.note:
            return self._ears.note
        if self._player.paused:
            return GO_ON
        if self._mute_since and self._player.timekeeper.now() - self._mute_since > SILENT_S:
            return f"{MUTE}{DEAF}"
        if self._player.position_s() < self._sheet.flight_start_s:
            return self._greeting
        return self._understood

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

    def orders(self) -> list[Order]:
        """Which orders were given since the last call."""
        given, self._orders = self._orders, []
        return given

    def follow(self) -> list[Tap]:
        """Listen for what belongs here, take what was said since the last call, and reply."""
        now = self._player.timekeeper.now()
        if any(level.power > 0.0 for level in self._ears.levels()):
            self._mute_since = None
        self._expect(now)
        found: list[Tap] = []
        for utterance in self._ears.utterances():
            passage = self._expected[utterance.expected]
            position = self._player.position_s(utterance.start_s)
            spoken = placed(utterance, position, passage, self._sheet)
            if spoken is None or self._is_own_reply(utterance.start_s):
                continue
            if spoken.said.order:
                self._orders += [spoken.said.order] if spoken.sure else []
            elif passage is not PAUSED:
                found += spoken.taps
                if spoken.question is not None:
                    self._answer(spoken, spoken.question, utterance.expected)
        return found

    def _expect(self, now: float) -> None:
        position = self._player.position_s(now)
        passage = PAUSED if self._player.paused else self._passages.at(position)
        if not self._expected or passage is not self._expected[-1]:
            ago = position - passage.from_s
            self._ears.expect(passage.grammar, now - (ago if ago <= LOOK_BACK_S else 0.0))
            self._expected.append(passage)
            if passage.question is not None:
                self._understood = ""

    def _answer(self, spoken: Spoken, question: int, expected: int) -> None:
        """Reply to what answers a question, once all that was asked for is said."""
        moment = self._rehearsal.flight.moments[question]
        before = self._given[1] if self._given[0] == expected else ()
        self._given = (expected, (*before, *spoken.taps))
        given = answers(moment, self._given[1])
        self._understood = _understood(moment.name, given)
        wrong = tuple(answer.asked for answer in given if not answer.right)
        reply = self._rehearsal.replies.get((question, wrong))
        if reply is not None and spoken.sure and len(given) >= len(self._sheet.asked(question)):
            self._say(reply, question)

    def _say(self, reply: Clip, question: int) -> None:
        """Say it where there is room; where only the coach's own answer is in its way, instead."""
        now = self._player.timekeeper.now()
        here_s = self._player.position_s(now)
        over_s = here_s + reply.length_s + ROOM_S
        coming = [cue for cue in self._sheet.cues if cue.phrase is not None and cue.end_s > here_s]
        in_the_way = [cue for cue in coming if cue.start_s < over_s]
        instead_of = None
        if len(in_the_way) == 1 and in_the_way[0].start_s > here_s:
            (cue,) = in_the_way
            if cue.moment == question and not cue.gap_s:
                in_the_way, instead_of = [], self._rehearsal.soundtrack.sound(cue)
        if not in_the_way:
            self._player.interject(reply, instead_of)
            self._replying_s = (now, now + reply.length_s + ROOM_S)

    def _is_own_reply(self, begun: float) -> bool:
        first, last = self._replying_s
        return self._ears.hears_coach and first <= begun < last


def _understood(name: str, given: Sequence[Answer]) -> str:
    """What was understood, for the screen: ``"90: speed 80 where 63 belongs, bank 30."``."""
    if not given:
        return f"{name}: heard, but not understood."
    all_right = all(answer.right for answer in given)
    words = ", ".join(answer.words for answer in given)
    return f"{name}: {words}{', right' if all_right else ''}."
