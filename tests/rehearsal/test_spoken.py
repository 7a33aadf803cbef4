"""What the student says while a rehearsal is played: orders are obeyed, right answers get a "yes"."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from coach.debrief.gauging import gauged
from coach.debrief.verdict import Verdict
from coach.ears.ears import Ears
from coach.ears.grammar import orders
from coach.ears.utterance import SURE
from coach.logbook.logbook import Logbook
from coach.rehearsal.attempt import new_run
from coach.rehearsal.listening import GO_ON, ROOM_S, STANDS_S, TO_ORDER, Listening
from coach.rehearsal.lost import SILENT_S
from coach.rehearsal.progress import Done, Progress
from coach.rehearsal.ready import Rehearsal, fly, prepare
from coach.rehearsal.run import run
from coach.sound.bed import LEVELS
from coach.sound.clip import RATE as FULL_RATE
from coach.sound.clip import Clip
from coach.sound.player import Player
from coach.sound.soundtrack import mix
from coach.sound.timekeeper import MACHINE, Timekeeper
from coach.taps.pressing import Press
from coach.taps.tap import Tap
from tests.ears.room import LateMicrophone, Mouth, Room, rehearsal
from tests.ears.speakers import say
from tests.ears.students import lazy_eight
from tests.rehearsal.test_run import DAY, KITE
from tests.sound.hurried import Hurried

REHEARSED = lazy_eight()
REHEARSAL = rehearsal(REHEARSED)
SHEET, MOMENTS = REHEARSED.sheet, REHEARSED.flight.moments
QUESTION = next(cue for cue in SHEET.cues if cue.gap_s)
TOLD = next(cue for cue in SHEET.cues if cue.moment == 0 and cue.phrase and not cue.gap_s)
RIGHT = "pitch seventeen above level bank fifteen"
YES = REHEARSAL.replies[0, ()]


def judged(taps: list[Tap]) -> tuple[Verdict, ...]:
    """The debrief's verdicts, the student having done nothing else."""
    return gauged(replace(new_run(REHEARSAL), taps=tuple(taps), ended="finished")).verdicts


def in_the_gap() -> Room:
    return Room(REHEARSAL, QUESTION.end_s + 0.8)


def test_yes_is_said_once_all_that_was_asked_is_right() -> None:
    room = in_the_gap()
    assert room.say("pitch seventeen above level") == [17.0]
    assert room.player.said == []  # the second number is still to come
    assert room.say("bank fifteen") == [15.0]
    assert room.player.said == [YES]


def test_the_screen_tells_what_was_understood_and_the_right_value_until_the_next_question() -> None:
    room = in_the_gap()
    room.say("bank thirty", sure=0.3)
    assert room.listening.note == "45: heard, but not understood."
    room.say("pitch seventeen above level")
    assert room.listening.note == "45: pitch 17, right."
    room.say("bank thirty")
    assert room.listening.note == "45: pitch 17, bank 30 where 15 belongs."
    room.say("bank fifteen")
    assert room.listening.note == "45: pitch 17, bank 15, right."
    following = [cue for cue in SHEET.cues if cue.gap_s][1]
    room.go(following.start_s + 0.01)
    assert room.listening.note == ""


def test_what_was_understood_does_not_stand_there_for_long() -> None:
    room = in_the_gap()
    room.say(RIGHT)
    room.player.timekeeper.sleep(STANDS_S - 0.5)
    assert room.listening.note == "45: pitch 17, bank 15, right."
    room.player.timekeeper.sleep(1.0)
    assert room.listening.note == ""


def test_an_answer_begun_while_the_coach_asks_counts_and_is_replied_to_once_it_has_asked() -> None:
    room = Room(REHEARSAL, QUESTION.start_s + 1.0)
    assert room.say(RIGHT, ago_s=0.5) == [17.0, 15.0]
    assert room.listening.note == "45: pitch 17, bank 15, right."
    assert room.player.said == []  # the coach does not speak over itself
    room.go(QUESTION.end_s + 0.1)
    assert room.player.said == [YES]


def test_an_answer_before_the_question_is_told_to_be_too_soon() -> None:
    room = Room(REHEARSAL, QUESTION.start_s - 0.2)
    assert room.say("pitch seventeen above level", ago_s=0.5) == []
    assert room.listening.note == "45: too soon, the coach has not asked yet."


def test_an_answer_after_the_coach_has_told_it_is_told_to_be_too_late_and_is_a_late_one() -> None:
    room = Room(REHEARSAL, TOLD.start_s + 2.5)
    room.mouth.say("pitch seventeen above level bank fifteen", ago_s=0.5)
    taps = room.listening.follow()
    assert room.listening.note == "45: too late, the coach has told it."
    assert [tap.value for tap in taps] == [17.0, 15.0]
    assert judged(taps)[0].word == "late"


def test_what_the_student_says_after_the_coach_changes_no_answer() -> None:
    for sure in (0.9, 0.3, 0.1):  # also where what was said in time was not understood
        room = in_the_gap()
        given = room.say("pitch ten above level bank fifteen", sure=sure)
        room.go(TOLD.start_s + 2.5)
        assert room.say(RIGHT, ago_s=0.5) == [], (given, sure)
        assert "too late" not in room.listening.note


def test_what_is_wrong_is_put_right_once_all_is_said() -> None:
    room = in_the_gap()
    room.say("pitch ten above level")
    assert room.player.said == []  # the student is not interrupted
    room.say("bank fifteen")
    assert room.player.said == [REHEARSAL.replies[0, ("pitch",)]]
    room = in_the_gap()
    room.say("pitch ten above level bank thirty")
    assert room.player.said == [REHEARSAL.replies[0, ("pitch", "bank")]]


def test_what_was_not_understood_gets_no_reply() -> None:
    room = in_the_gap()
    room.say("pitch ten above level bank thirty", sure=0.3)
    assert room.player.said == []
    room.say(RIGHT)
    room.say("bank thirty", sure=0.3)
    assert room.player.said == [YES]


def answered(before_told_s: float) -> Room:
    """A right answer, understood so long before the coach itself tells."""
    room = in_the_gap()
    room.player.put(TOLD.start_s - before_told_s)
    room.say(RIGHT, ago_s=1.5)
    return room


def test_the_coachs_own_answer_is_left_out_only_where_the_reply_would_run_into_it() -> None:
    room = answered(YES.length_s + ROOM_S + 0.5)
    assert (room.player.said, room.player.left_out) == ([YES], [])
    room = answered(0.2)
    assert (room.player.said, room.player.left_out) == ([YES], [REHEARSAL.soundtrack.sound(TOLD)])


def test_no_reply_is_said_over_the_coachs_own_answer_or_what_comes_after_it() -> None:
    assert answered(-0.1).player.said == []
    after = next(cue for cue in SHEET.cues if cue.phrase and cue.start_s > TOLD.start_s)
    long = Clip(np.zeros(round((after.start_s - TOLD.start_s) * FULL_RATE), np.float32))
    room = Room(replace(REHEARSAL, replies={(0, ()): long}), TOLD.start_s - 0.1)
    room.say(RIGHT, ago_s=1.5)
    assert room.player.said == []


def test_an_answer_that_goes_on_while_the_coach_speaks_counts_from_its_first_word() -> None:
    room = in_the_gap()
    next_s = SHEET.position_s(MOMENTS[0].time_s)
    room.mouth.say(RIGHT)
    begun = room.mouth.said.pop()
    room.go(next_s + 1.0)  # it is understood only now, at another place
    room.mouth.said.append(replace(begun, start_s=room.player.timekeeper.now() - 1.5))
    first, _ = room.listening.follow()
    assert -0.6 < first.time_s - MOMENTS[0].time_s < 0.5
    assert first.hesitation_s is not None and room.player.said == []


@pytest.mark.parametrize("in_a_room", [True, False])
def test_only_in_a_room_may_what_is_heard_be_the_coachs_own_reply(in_a_room: bool) -> None:
    room = Room(REHEARSAL, QUESTION.end_s + 0.8, in_a_room=in_a_room)
    room.say(RIGHT)
    assert room.player.said == [YES]
    assert room.say("bank ten", sure=1.0) == ([] if in_a_room else [10.0])


def test_orders_are_taken_once_and_only_when_they_are_sure() -> None:
    room = in_the_gap()
    room.say("coach pause", sure=SURE - 0.01)
    assert room.listening.orders() == []
    assert room.say("coach pause") == []
    assert room.listening.orders() == ["pause"]
    assert room.listening.orders() == []


def test_while_paused_only_orders_are_heard() -> None:
    room = in_the_gap()
    room.player.pause()
    room.listening.follow()
    assert room.say("bank fifteen") == []
    assert room.mouth.expected[-1][0] == orders()
    assert room.listening.note == GO_ON
    room.say("coach go on")
    assert room.listening.orders() == ["go on"]


def test_a_place_is_listened_for_from_where_it_begins_and_after_a_jump_from_now() -> None:
    room = Room(REHEARSAL, QUESTION.start_s - 1.0)
    place = REHEARSED.passages.at(QUESTION.end_s)
    room.go(place.from_s + 0.05)
    _, since = room.mouth.expected[-1]
    assert room.player.position_s(since) == pytest.approx(place.from_s, abs=0.01)
    room = Room(REHEARSAL, 0.0)
    room.go(QUESTION.end_s + 2.0)
    _, since = room.mouth.expected[-1]
    assert room.player.position_s(since) == pytest.approx(QUESTION.end_s + 2.0)


def test_the_screen_says_what_can_be_said_until_the_maneuver_begins() -> None:
    room = Room(REHEARSAL, 0.0)
    assert room.listening.note == TO_ORDER
    room.go(SHEET.flight_start_s + 1.0)
    assert room.listening.note == ""


def test_a_microphone_that_never_gave_a_sound_is_told() -> None:
    room = Room(REHEARSAL, SHEET.flight_start_s + 1.0, power=0.0)
    room.player.timekeeper.sleep(SILENT_S + 1.0)
    assert room.listening.note.startswith("Nothing but silence comes in")
    room.mouth.power = 1e-9
    room.listening.follow()
    assert room.listening.note == ""


class Nobody:
    """No key is ever pressed."""

    def presses(self) -> list[Press]:
        return []


@cache
def plain() -> Rehearsal:
    """A rehearsal in which nothing is asked."""
    return prepare(fly("lazy-eight", KITE, DAY), DAY)


def flown(
    tmp_path: Path,
    ears: Ears,
    say: Callable[[Progress], None],
    length_s: float | None = None,
    timekeeper: Timekeeper = MACHINE,
) -> tuple[Done, list[Progress]]:
    """A silent run in which a test may say something at every frame.

    Args:
        tmp_path: where its logbook is.
        ears: what hears.
        say: called at every frame.
        length_s: where the soundtrack, here without a cue, ends; None for the whole of it.
        timekeeper: whose time it is flown in.
    """
    ready = plain()
    if length_s is not None:
        sheet = replace(ready.sheet, cues=(), flight_start_s=0.1, length_s=length_s)
        ready = replace(ready, sheet=sheet, soundtrack=mix(sheet, {}, dict.fromkeys(LEVELS, 0.0)))
    seen: list[Progress] = []

    def listen(player: Player) -> Listening:
        return Listening(ready, ears, player)

    def show(progress: Progress) -> None:
        seen.append(replace(progress, taps={}, unheard=[*progress.unheard]))
        say(progress)

    with Logbook(tmp_path / "logbook.sqlite3") as logbook:
        done = run(
            ready, Nobody(), logbook, show, output="silent", listen=listen, timekeeper=timekeeper
        )
    return done, seen


def test_spoken_orders_pause_go_on_start_over_and_stop_as_the_keys_do(tmp_path: Path) -> None:
    mouth = Mouth(Hurried())
    given: list[str] = []
    reached_s = 0.0

    def order_due(progress: Progress) -> None:
        nonlocal reached_s

        def order(words: str) -> None:
            given.append(words)
            mouth.say(f"coach {words}")

        began_again = progress.position_s < reached_s
        reached_s = max(reached_s, progress.position_s)
        if not given and progress.position_s > 0.3:
            order("pause")
        elif given == ["pause"] and progress.paused:
            order("go on")
        elif given == ["pause", "go on"] and progress.position_s > 1.5:
            order("start over")
        elif given[-1:] == ["start over"] and began_again:
            order("stop")

    done, seen = flown(tmp_path, mouth, order_due, timekeeper=mouth.timekeeper)
    assert given == ["pause", "go on", "start over", "stop"]
    assert not done.finished
    assert {one.message for one in seen if one.paused} == {GO_ON}


def test_pause_does_not_go_on_and_go_on_does_not_pause(tmp_path: Path) -> None:
    mouth = Mouth(Hurried())
    given: list[str] = []

    def order_due(progress: Progress) -> None:
        steps = ("go on", "pause", "pause", "stop")
        due = (progress.position_s > 0.2, not progress.paused, progress.paused, progress.paused)
        if len(given) < len(steps) and due[len(given)]:
            given.append(steps[len(given)])
            mouth.say(f"coach {given[-1]}")

    _, seen = flown(tmp_path, mouth, order_due, timekeeper=mouth.timekeeper)
    assert given == ["go on", "pause", "pause", "stop"]
    first = next(place for place, one in enumerate(seen) if one.paused)
    assert all(one.paused for one in seen[first:])


def test_a_microphone_that_goes_in_a_run_is_kept_with_it(tmp_path: Path) -> None:
    mouth = Mouth(Hurried())

    def pull_out(progress: Progress) -> None:
        if progress.position_s > 0.5 and not mouth.deaf:
            mouth.deaf, mouth.deaf_since = "gone", mouth.timekeeper.now()

    done, seen = flown(tmp_path, mouth, pull_out, length_s=2.0, timekeeper=mouth.timekeeper)
    with Logbook(tmp_path / "logbook.sqlite3") as logbook:
        unheard = logbook.run(done.numbers[0]).unheard
    (lost,) = [one for one in unheard if one.why == "no microphone"]
    assert 0.3 < lost.from_s < lost.to_s == pytest.approx(1.9)
    assert seen[-1].unheard == [lost] and seen[-1].message.startswith("gone; the rehearsal goes on")


def test_what_is_said_at_the_very_end_is_heard_out_however_late_it_comes_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("pocketsphinx", reason="the extra listen is not installed")
    monkeypatch.setattr("coach.rehearsal.run.HEAR_OUT_S", 60.0)
    microphone = LateMicrophone(late_s=2.5)
    begun_s: list[float] = []
    name = say("forty five")

    def speak(progress: Progress) -> None:
        if progress.position_s > 1.0 and not begun_s:
            begun_s.append(progress.position_s)
            microphone.say(name)

    with Ears(microphone) as ears:
        ears.wait()
        done, _ = flown(tmp_path, ears, speak, length_s=2.0)
    assert done.finished
    with Logbook(tmp_path / "logbook.sqlite3") as logbook:
        kept = logbook.run(done.numbers[0])
    (tap,) = [one for one in kept.taps if one.said == "45"]
    assert "the ears were busy" not in [one.why for one in kept.unheard]
    assert tap.how == "voice"
    assert begun_s[0] - 0.3 < tap.time_s + 0.1 <= 2.0
