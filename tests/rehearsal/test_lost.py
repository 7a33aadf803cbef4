"""Promises of what could not be perceived: each stretch is told with its reason, and none is lost."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from coach.debrief.gauging import gauged
from coach.debrief.perceived import perceived
from coach.debrief.verdict import Verdict
from coach.ears.own_voice import AFTER_S, BEFORE_S
from coach.ears.passages import passages
from coach.ears.utterance import LOUD_DB
from coach.rehearsal.attempt import new_run
from coach.rehearsal.lost import SILENT_S
from coach.taps.tap import UNCLEAR
from coach.taps.unheard import Unheard
from tests.ears.room import Room, rehearsal
from tests.ears.students import lazy_eight

REHEARSED = lazy_eight()
REHEARSAL = rehearsal(REHEARSED)
SHEET = REHEARSED.sheet
QUESTION = next(cue for cue in SHEET.cues if cue.gap_s)
WRONG = "pitch ten above level bank thirty"
RIGHT = "bank fifteen"
"""At the first question and at the third."""


def room_at(position_s: float, *, loudspeakers: bool = False, power: float = 1.0) -> Room:
    return Room(REHEARSAL, position_s, power, in_a_room=loudspeakers)


LOUD = LOUD_DB - 0.5
FIRST, SECOND, THIRD = REHEARSED.passages.awaited[:3]


def lost(room: Room, *, over: bool = False) -> list[Unheard]:
    return room.listening.unheard(over=over)


def test_with_headphones_nothing_is_lost_where_all_is_understood() -> None:
    room = room_at(QUESTION.end_s + 2.0)
    room.say(WRONG)
    assert lost(room) == [] and lost(room, over=True) == []


def test_on_loudspeakers_each_stretch_of_the_coachs_voice_is_told_once_it_is_over() -> None:
    room = room_at(QUESTION.start_s + 0.1, loudspeakers=True)
    before = lost(room)
    room.go(QUESTION.end_s + AFTER_S + 0.1)
    (asked,) = lost(room)
    assert asked.why == "the coach spoke"
    assert SHEET.position_s(asked.from_s) == pytest.approx(QUESTION.start_s - BEFORE_S)
    assert SHEET.position_s(asked.to_s) == pytest.approx(QUESTION.end_s + AFTER_S)
    assert all(one.to_s < asked.from_s for one in before)
    assert lost(room) == []


def test_every_word_of_the_coach_lies_in_a_stretch_when_a_run_on_loudspeakers_is_over() -> None:
    room = room_at(SHEET.length_s, loudspeakers=True)
    found = [one for one in lost(room, over=True) if one.why == "the coach spoke"]
    assert all(one.to_s < other.from_s for one, other in itertools.pairwise(found))
    for cue in SHEET.cues:
        if cue.phrase is not None and cue.start_s > SHEET.flight_start_s:
            begin, end = SHEET.flight_s(cue.start_s), SHEET.flight_s(cue.end_s)
            assert any(one.from_s <= begin and end <= one.to_s for one in found), cue.phrase.text


def test_what_was_said_but_not_understood_is_lost_for_its_whole_length() -> None:
    for sure in (0.3, 0.1):
        room = room_at(QUESTION.end_s + 2.0)
        room.say(WRONG, sure=sure, ago_s=1.0)
        (found,) = lost(room)
        assert found.why == "not understood"
        assert found.to_s - found.from_s == pytest.approx(0.5 * SHEET.pace)
        assert SHEET.position_s(found.from_s) == pytest.approx(QUESTION.end_s + 1.0, abs=0.1)
        assert room.listening.note == "45: heard, but not understood."


def test_the_rest_of_what_was_said_over_the_coach_is_never_called_wrong() -> None:
    room = room_at(QUESTION.end_s + 1.5, loudspeakers=True)
    room.mouth.say(WRONG, ago_s=1.2, whole=False)
    (tap,) = room.listening.follow()
    assert tap.said == UNCLEAR and room.player.said == []
    assert room.listening.note == "45: heard, but not understood, as the coach spoke meanwhile."
    assert "not understood" in [one.why for one in lost(room)]


def test_the_coachs_reply_is_a_stretch_of_its_voice_as_well() -> None:
    room = room_at(QUESTION.end_s + 1.5, loudspeakers=True)
    room.say("pitch seventeen above level bank fifteen", ago_s=0.6)
    assert room.player.said == [REHEARSAL.replies[0, ()]]
    lost(room)
    room.go(QUESTION.end_s + 1.6)
    (reply,) = lost(room, over=True)
    assert reply.why == "the coach spoke"
    assert SHEET.position_s(reply.from_s) == pytest.approx(QUESTION.end_s + 1.5, abs=0.05)


def test_what_is_said_into_the_coachs_reply_is_never_called_wrong() -> None:
    room = room_at(QUESTION.end_s + 1.5, loudspeakers=True)
    room.say("pitch seventeen above level bank fifteen", ago_s=0.6)
    room.mouth.say(WRONG, ago_s=0.2, long_s=0.4)
    assert [tap.said for tap in room.listening.follow()] == [UNCLEAR]
    room.mouth.say(WRONG, ago_s=-0.1, long_s=0.4)  # that may be the reply itself
    assert room.listening.follow() == []


def test_a_speech_without_a_pause_is_understood_in_parts_that_are_never_called_wrong() -> None:
    room = room_at(QUESTION.end_s + 2.0)
    room.mouth.say("bank thirty", ago_s=9.0, long_s=8.0)
    room.mouth.say("bank thirty", ago_s=0.9)
    room.listening.follow()
    assert [one.why for one in lost(room)] == ["the ears were busy"] * 2


def test_a_microphone_that_went_is_gone_for_the_rest_of_the_flight() -> None:
    room = room_at(QUESTION.end_s)
    room.mouth.deaf, room.mouth.deaf_since = "gone", room.mouth.timekeeper.now() - 1.0
    (found,) = lost(room)
    assert found.why == "no microphone"
    assert SHEET.position_s(found.from_s) == pytest.approx(QUESTION.end_s - 1.0, abs=0.1)
    assert found.to_s == pytest.approx(SHEET.flight_s(SHEET.length_s))
    assert lost(room) == []


def test_a_microphone_that_never_gave_a_sound_was_none() -> None:
    room = room_at(QUESTION.end_s, power=0.0)
    assert lost(room) == []
    room.player.timekeeper.sleep(SILENT_S + 1.0)
    room.go(QUESTION.end_s + SILENT_S)
    (found,) = lost(room)
    assert (found.from_s, found.why) == (0.0, "no microphone")
    room.go(QUESTION.end_s + SILENT_S + 1.0)
    assert lost(room) == []
    (rest,) = lost(room, over=True)
    assert rest.from_s == found.to_s and rest.why == "no microphone"


def test_what_the_recogniser_had_not_got_to_when_the_run_was_over_was_lost_to_busy_ears() -> None:
    room = room_at(QUESTION.end_s)
    room.say(WRONG)
    room.mouth.behind_s = 3.0
    assert lost(room) == []
    (found,) = lost(room, over=True)
    assert found.why == "the ears were busy"
    assert found.to_s - found.from_s == pytest.approx(3.0 * SHEET.pace, abs=0.1)
    assert lost(room, over=True) == []


def test_who_starts_over_is_told_of_the_coachs_voice_anew() -> None:
    room = room_at(QUESTION.end_s + 1.0, loudspeakers=True)
    room.say(WRONG)
    first = lost(room, over=True)
    room.go(0.0)
    assert lost(room) == [] and lost(room, over=True) == []  # nothing is flown yet
    room.go(0.5)
    room.go(QUESTION.end_s + 1.0)
    room.say(WRONG)
    assert first and lost(room, over=True) == first


def verdicts(room: Room) -> dict[str, Verdict]:
    """The debrief's, of who did nothing that was perceived, for the first three checkpoints."""
    unheard = tuple(lost(room, over=True))
    flown = replace(new_run(REHEARSAL), unheard=unheard, ended="stopped")
    reached_s = SHEET.flight_s(room.player.position_s())
    return {one.name: one for one in gauged(replace(flown, reached_s=reached_s)).verdicts}


def test_in_a_loud_room_a_question_without_an_answer_is_one_that_was_not_perceived() -> None:
    room = room_at(FIRST[0] + 1.0)
    room.say(RIGHT, stands_out_db=LOUD)
    room.go(SECOND[1] - 0.1)
    assert lost(room) == []
    room.go(SECOND[1] + 0.1)
    (found,) = lost(room)
    assert found.why == "the room was loud" and lost(room) == []
    ends = [SHEET.position_s(at) for at in (found.from_s, found.to_s)]
    assert ends == pytest.approx([*SECOND])


def test_what_is_heard_at_a_question_leaves_it_as_it_was() -> None:
    room = room_at(FIRST[0] + 1.0)
    room.say(RIGHT, stands_out_db=LOUD)
    room.go(SECOND[1] - 1.0)
    room.say("bank thirty", stands_out_db=LOUD)
    room.go(SECOND[1] + 0.1)
    assert lost(room) == [] and lost(room, over=True) == []


def test_in_a_quiet_room_silence_is_silence() -> None:
    room = room_at(FIRST[0] + 1.0)
    room.say(WRONG, stands_out_db=LOUD_DB + 0.5)
    room.go(THIRD[1] + 0.1)
    assert lost(room) == []
    assert verdicts(room)["90"].word == "missed"


def test_that_a_room_is_loud_holds_for_the_questions_before_it_is_known() -> None:
    room = room_at(SECOND[1] + 0.1)
    assert lost(room) == []
    room.go(THIRD[0] + 1.0)
    room.say(RIGHT, stands_out_db=LOUD)
    assert [one.why for one in lost(room)] == ["the room was loud"] * 2
    room.go(THIRD[1] + 5.0)
    unheard = [
        Unheard(SHEET.flight_s(begin), SHEET.flight_s(end), "the room was loud")
        for begin, end in (FIRST, SECOND)
    ]
    run = replace(new_run(REHEARSAL), unheard=tuple(unheard), ended="stopped")
    judged = gauged(replace(run, reached_s=SHEET.flight_s(THIRD[1] + 5.0))).verdicts
    assert [one.word for one in judged[:2]] == ["not perceived"] * 2
    assert perceived(judged[:2]).startswith(
        "2 of 2 not counted: nothing heard in a loud room (nearer to the microphone, or push"
    )


def test_a_question_is_not_given_up_before_the_recogniser_has_come_so_far() -> None:
    room = room_at(FIRST[0] + 1.0)
    room.say(RIGHT, stands_out_db=LOUD)
    room.mouth.behind_s = 3.0
    room.go(SECOND[1] + 2.0)
    assert lost(room) == []
    room.mouth.behind_s = 0.0
    assert [one.why for one in lost(room)] == ["the room was loud"]


def test_with_push_to_talk_no_room_is_too_loud() -> None:
    room = room_at(FIRST[0] + 1.0)
    room.mouth.pushed = True
    room.say(RIGHT, stands_out_db=LOUD)
    room.go(THIRD[1])
    assert lost(room) == [] and lost(room, over=True) == []


def test_of_a_run_in_which_nothing_was_heard_at_all_nothing_is_held_against_anybody() -> None:
    room = room_at(THIRD[1] + 5.0)
    room.mouth.say("", sure=0.1)  # a knock
    room.listening.follow()
    judged = verdicts(room)
    assert {one.word for one in judged.values()} == {"not perceived"}
    told = perceived([*judged.values()])
    assert told == "Nothing was heard in this run: `coach listen` tries the microphone."


def test_where_nothing_is_asked_a_name_is_awaited_around_each_checkpoint() -> None:
    flight = REHEARSED.flight
    awaited = passages(replace(SHEET, cues=()), flight.moments).awaited
    assert len(awaited) == len(flight.moments)
    for (begin, end), moment in zip(awaited, flight.moments, strict=True):
        assert begin < SHEET.position_s(moment.time_s) < end
