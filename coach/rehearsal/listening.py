"""What the student says along a rehearsal: listened for passage by passage, and taken as taps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from coach.callouts.cuesheet import Cue
from coach.debrief.answers import Answer, answers
from coach.ears.ears import Ears
from coach.ears.passages import PAUSED, Passage, passages, placed
from coach.ears.segments import ENDS_S, LONGEST_S
from coach.ears.source import DEAF, MUTE
from coach.ears.spoken import Spoken
from coach.ears.utterance import NOISE, Utterance
from coach.flight.moment import Moment
from coach.rehearsal.lost import Lost
from coach.rehearsal.ready import Rehearsal
from coach.sound.clip import Clip
from coach.sound.player import Player
from coach.taps.order import Order
from coach.taps.tap import Tap
from coach.taps.unheard import Unheard

ROOM_S = 0.5
"""Silence between a reply and the coach's next words, the device's delay in it; without so much
room it is not said."""

LOOK_BACK_S = 0.5
"""How far back a passage is listened for that was come to since the last look; further back the
student has jumped to it."""

TO_ORDER = "Say “coach pause”, “coach start over”, “coach stop”, or press the keys."
GO_ON = "Say “coach go on”, “coach start over”, “coach stop”, or press the keys."

STANDS_S = 6.0
"""So long the screen tells what was understood, unless the next question begins before."""


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
        moments = rehearsal.flight.moments
        seen = [rehearsal.flight.reference_ahead(moment.time_s) for moment in moments]
        self._passages = passages(rehearsal.sheet, moments, seen)
        self._expected: list[Passage] = []
        self._orders: list[Order] = []
        # What was said at the latest passage, which may come in parts.
        self._given: tuple[int, tuple[Tap, ...]] = (-1, ())
        # The question that something was said to while it could be answered.
        self._answered: int | None = None
        # What the coach says to it, as soon as its question is over.
        self._reply: tuple[Clip, Cue] | None = None
        self._lost = Lost(rehearsal.sheet, ears, player, self._passages.awaited)
        self._long_until = -math.inf
        # What was made of the student's latest words, and until when that is shown.
        self._told: tuple[str, float] = ("", -math.inf)

    @property
    def note(self) -> str:
        """One sentence that the student should read, or an empty text."""
        if self._ears.note:
            return self._ears.note
        if self._player.paused:
            return GO_ON
        if self._lost.is_mute:
            return f"{MUTE}{DEAF}"
        if self._player.position_s() < self._sheet.flight_start_s:
            return self._greeting
        told, until = self._told
        return told if self._player.timekeeper.now() < until else ""

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

    def unheard(self, *, over: bool = False) -> list[Unheard]:
        """The stretches since the last call in which the student could not be perceived.

        Args:
            over: the run is over: what goes on now ends here.
        """
        return self._lost.taken(over=over)

    def follow(self) -> list[Tap]:
        """Listen for what belongs here, take what was said since the last call, and reply."""
        now = self._player.timekeeper.now()
        self._lost.follow(self._player.position_s(now))
        self._expect(now)
        found: list[Tap] = []
        for utterance in self._ears.utterances():
            found += self._taken(utterance, self._expected[utterance.expected])
        if self._reply is not None and self._reply[1].end_s <= self._player.position_s(now):
            self._say(*self._reply)
            self._reply = None
        return found

    def _taken(self, utterance: Utterance, passage: Passage) -> tuple[Tap, ...]:
        """What words at their passage come to; orders are kept for `orders`."""
        begin_s, end_s = (
            self._player.position_s(at) for at in (utterance.start_s, utterance.end_s)
        )
        if self._lost.is_reply(begin_s):
            return ()
        # An utterance that is cut where it was longest, or the rest of it.
        length_s = utterance.end_s - utterance.start_s
        in_parts = utterance.start_s < self._long_until or length_s >= LONGEST_S - ENDS_S
        if in_parts:
            self._long_until = utterance.end_s + ENDS_S
        whole = utterance.whole and not self._lost.is_under_reply(begin_s, end_s)
        heard = replace(utterance, whole=whole and not in_parts)
        spoken = placed(heard, begin_s, passage, self._sheet)
        if spoken.said.order:
            self._orders += [spoken.said.order] if spoken.sure else []
            return ()
        if passage is PAUSED:
            return ()
        if utterance.sure >= NOISE:
            self._lost.heard(begin_s, end_s, utterance.stands_out_db)
        if not spoken.sure:
            self._lost.add(begin_s, end_s, "the ears were busy" if in_parts else "not understood")
        late = spoken.due == "too late"
        if late and spoken.question == self._answered:
            return ()  # the student says after the coach what it tells
        moments = self._rehearsal.flight.moments
        self._tell(_told(utterance.words, spoken, moments, over_it=not whole))
        if passage.question is not None:
            self._answered = passage.question.moment
        if late:
            # What is said after the coach has told it is an answer all the same, and a late one.
            return replace(spoken, due="now").taps
        if spoken.question is not None and spoken.due == "now":
            self._answer(spoken, spoken.question, utterance.expected)
        return spoken.taps

    def _tell(self, words: str) -> None:
        if words:
            self._told = words, self._player.timekeeper.now() + STANDS_S

    def _expect(self, now: float) -> None:
        position = self._player.position_s(now)
        passage = PAUSED if self._player.paused else self._passages.at(position)
        if not self._expected or passage is not self._expected[-1]:
            ago = position - passage.from_s
            self._ears.expect(passage.grammar, now - (ago if ago <= LOOK_BACK_S else 0.0))
            self._expected.append(passage)
            if passage.question is not None:
                self._told = "", -math.inf
                self._reply = None

    def _answer(self, spoken: Spoken, question: int, expected: int) -> None:
        """Reply to what answers a question, once all that was asked for is said."""
        moment = self._rehearsal.flight.moments[question]
        before = self._given[1] if self._given[0] == expected else ()
        self._given = (expected, (*before, *spoken.taps))
        given = answers(moment, self._given[1])
        if spoken.sure and given:
            self._tell(_understood(moment.name, given))
        wrong = tuple(answer.asked for answer in given if not answer.right)
        reply = self._rehearsal.replies.get((question, wrong))
        asked = next(cue for cue in self._sheet.cues if cue.gap_s and cue.moment == question)
        if reply is not None and spoken.sure and len(given) >= len(asked.asks):
            self._reply = reply, asked

    def _say(self, reply: Clip, question: Cue) -> None:
        """Say it where there is room; where only the coach's own answer is in its way, instead."""
        now = self._player.timekeeper.now()
        here_s = self._player.position_s(now)
        over_s = here_s + reply.length_s + ROOM_S
        coming = [cue for cue in self._sheet.cues if cue.phrase is not None and cue.end_s > here_s]
        in_the_way = [cue for cue in coming if cue.start_s < over_s]
        instead_of = None
        if len(in_the_way) == 1 and in_the_way[0].start_s > here_s:
            (cue,) = in_the_way
            if cue.moment == question.moment and not cue.gap_s:
                in_the_way, instead_of = [], self._rehearsal.soundtrack.sound(cue)
        if not in_the_way:
            self._player.interject(reply, instead_of)
            self._lost.replied(here_s, over_s)


def _told(words: str, spoken: Spoken, moments: Sequence[Moment], *, over_it: bool) -> str:
    """What became of words, for the screen; "" for an answer, which is told with those before it.

    What is hardly speech, and nothing the coach asked for, is not worth a word.
    """
    asked = f"{moments[spoken.question].name}: " if spoken.question is not None else ""
    if spoken.due == "too soon":
        return f"{asked}too soon, the coach has not asked yet."
    if spoken.due == "too late":
        return f"{asked}too late, the coach has told it."
    if spoken.sure:
        return "" if asked else f"Heard: {words}."
    if spoken.due == "not at all" and not asked:
        return ""
    why = ", as the coach spoke meanwhile" if over_it else ""
    return f"{asked}heard, but not understood{why}."


def _understood(name: str, given: Sequence[Answer]) -> str:
    """What was understood, for the screen: ``"90: speed 80 where 63 belongs, bank 30."``."""
    all_right = all(answer.right for answer in given)
    words = ", ".join(answer.words for answer in given)
    return f"{name}: {words}{', right' if all_right else ''}."
