"""A student who answers while the coach still asks, heard by the real recogniser."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from coach.debrief.gauging import gauged
from coach.debrief.verdict import Verdict
from coach.ears.own_voice import OwnVoice
from coach.ears.segments import RATE, Samples
from coach.rehearsal.attempt import new_run
from coach.taps.unheard import Unheard
from tests.ears.room import Room, rehearsal
from tests.ears.students import coach, lazy_eight, student

pytest.importorskip("pocketsphinx", reason="the extra listen is not installed")

from tests.ears.listening import listen

REHEARSED = lazy_eight()
REHEARSAL = rehearsal(REHEARSED)
SHEET = REHEARSED.sheet
QUESTIONS = [cue for cue in SHEET.cues if cue.gap_s]
ASKED = 2
"""How many of its questions are heard, and how long that is."""
UNTIL_S = QUESTIONS[ASKED].start_s - 0.5
PASSAGES = [one for one in REHEARSED.passages.passages if one.from_s < UNTIL_S]
BEGINS_S = 0.4
"""So long after the question's first word the student begins, who knows what is coming."""


def heard(sound: Samples, *, loudspeakers: bool) -> tuple[Sequence[Verdict], Sequence[Unheard]]:
    """The verdicts on the checkpoints that were asked for, and what could not be perceived."""
    expected = [(one.from_s, one.grammar) for one in PASSAGES]
    utterances = listen(sound[: round(UNTIL_S * RATE)], expected)
    room = Room(REHEARSAL, 0.0, in_a_room=loudspeakers)
    for passage in PASSAGES:
        room.go(passage.from_s + 0.01)
    room.go(UNTIL_S)
    zero = room.player.timekeeper.now() - room.player.position_s()
    room.mouth.said = [
        replace(one, start_s=zero + one.start_s, end_s=zero + one.end_s) for one in utterances
    ]
    run = replace(
        new_run(REHEARSAL),
        taps=tuple(room.listening.follow()),
        unheard=tuple(room.listening.unheard(over=True)),
        reached_s=SHEET.flight_s(UNTIL_S),
        ended="stopped",
    )
    return gauged(run).verdicts, run.unheard


def test_who_answers_while_the_coach_asks_is_judged_like_anybody_else() -> None:
    sound = student(REHEARSED, "en-us", 175, think_s=BEGINS_S, waits=False)
    verdicts, unheard = heard(sound, loudspeakers=False)
    assert [(one.word, bool(one.wrong)) for one in verdicts] == [
        ("on time", False),
        ("wrong", True),
    ]
    assert [one.hesitation_s for one in verdicts] == [0.0] * ASKED
    assert not unheard


def test_on_loudspeakers_nothing_that_was_said_over_the_coach_is_called_wrong() -> None:
    sound = student(REHEARSED, "en-us", 175, think_s=BEGINS_S, waits=False) + coach(REHEARSED)
    own = OwnVoice(SHEET, lambda at: at)
    for at in range(0, len(sound), RATE // 20):
        if own(at / RATE):
            sound[at : at + RATE // 20] = np.nan
    verdicts, unheard = heard(sound, loudspeakers=True)
    assert len(verdicts) == ASKED and not any(one.wrong for one in verdicts), verdicts
    # Each question lies in a stretch in which the coach spoke itself.
    for question in QUESTIONS[:ASKED]:
        begin, end = SHEET.flight_s(question.start_s), SHEET.flight_s(question.end_s)
        assert any(
            one.why == "the coach spoke" and one.from_s <= begin and end <= one.to_s
            for one in unheard
        )
