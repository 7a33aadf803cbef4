"""Promises of a phone in the hand: what it read is on this machine's clock, once and in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from coach.hand.grip import EASY, Grip
from coach.hand.watching import TROUBLES
from coach.page.hand.hand import AGAIN, MOST_WAITING, STAGES, UNSURE_DEG, Hand
from coach.page.hand.messages import MOST_READINGS, Held, Hold, Sensing, from_hand
from coach.page.server.clocks import SETTLED_AFTER, Exchange
from coach.page.server.limits import MESSAGE_BYTES
from coach.rehearsal.steering import Stage
from tests.page.phones import quaternion

AHEAD_S = 123.25
"""By so much a phone's clock is ahead of this machine's."""

HALF_S = 0.004
"""A message is on its way for so long."""

SIDEWAYS = Grip(nose=(0.0, 0.0, -1.0), top=(1.0, 0.0, 0.0))
"""Strapped on with the screen to the tail, its right edge up."""


def exchange(at_s: float, ahead_s: float = AHEAD_S) -> Exchange:
    """A question about the clock, and its answer."""
    there_s = at_s + HALF_S + ahead_s
    return Exchange(at_s, there_s, there_s, at_s + 2 * HALF_S)


def connected(now_s: float = 0.0, ahead_s: float = AHEAD_S, hand: Hand | None = None) -> Hand:
    """A phone whose clock is known by then."""
    hand = hand or Hand()
    hand.arrive(now_s - 1.0)
    for number in range(SETTLED_AFTER):
        hand.clock.learn(exchange(now_s - 1.0 + 0.1 * number, ahead_s))
    return hand


def held(
    number: int,
    at_s: Sequence[float],
    pitch_deg: float = 0.0,
    bank_deg: float = 0.0,
    grip: Grip = EASY,
    ahead_s: float = AHEAD_S,
) -> Held:
    """Readings made at these times of this machine, all alike but for a tremor."""
    turned = []
    for at in at_s:
        one = quaternion(pitch_deg + 0.4 * (at % 0.1), bank_deg, grip)
        turned.append((one["x"], one["y"], one["z"], one["w"]))
    times = tuple(at + ahead_s for at in at_s)
    return Held(type="held", number=number, at_s=times, quaternions=tuple(turned))


def flown(
    hand: Hand, from_s: float, for_s: float, pitch_deg: float, bank_deg: float, grip: Grip = EASY
) -> float:
    """It is held so for a while, sending ten times a second; until when."""
    for step in range(round(10 * for_s)):
        begin_s = from_s + step / 10
        at_s = [begin_s + 0.02 * one for one in range(5)]
        hand.take(held(hand.taken + 1, at_s, pitch_deg, bank_deg, grip), begin_s + 0.1)
    return from_s + for_s


def test_what_it_reads_is_on_this_machines_clock() -> None:
    hand = connected()
    readings = hand.take(held(1, [0.0, 0.02, 0.04], 10.0, -20.0), now_s=0.1)
    assert readings is not None
    assert readings.at_s == pytest.approx([0.0, 0.02, 0.04], abs=HALF_S)
    assert hand.doubt_s == pytest.approx(HALF_S, rel=0.2)
    pitch_deg, bank_deg = EASY.attitude(readings.up)
    assert pitch_deg == pytest.approx(10.0, abs=0.1)
    assert bank_deg == pytest.approx(-20.0, abs=0.1)


def test_angles_are_read_like_quaternions() -> None:
    hand = connected()
    # Top edge 30 degrees up, then right edge 30 degrees down: beta and gamma of W3C's text.
    told = Held(type="held", number=1, at_s=(AHEAD_S,), angles=((77.0, 30.0, 0.0),))
    up = hand.take(told, 0.1)
    told = Held(type="held", number=2, at_s=(AHEAD_S + 0.02,), angles=((77.0, 0.0, 30.0),))
    down = hand.take(told, 0.1)
    assert up is not None and down is not None
    for readings, expected in ((up, (30.0, 0.0)), (down, (0.0, 30.0))):
        assert np.ravel(EASY.attitude(readings.up)) == pytest.approx(expected, abs=1e-6)


def test_before_its_clock_is_known_readings_wait_and_none_is_lost() -> None:
    hand = Hand()
    hand.arrive(-1.0)
    assert hand.take(held(1, [0.0]), 0.1) is None
    assert hand.take(held(2, [0.1]), 0.2) is None
    assert hand.taken == 0
    hand.clock.learn(exchange(0.2))
    readings = hand.placed(0.21)
    assert readings is not None and len(readings) == 2
    assert hand.taken == 2


def test_nothing_that_comes_twice_is_taken_twice() -> None:
    hand = connected()
    assert hand.take(held(1, [0.0]), 0.1) is not None
    assert hand.take(held(1, [0.0]), 0.1) is None
    # Nor under another number: it is no later than what was taken.
    assert hand.take(held(2, [0.0]), 0.1) is None
    assert hand.taken == 2


STEPS = st.lists(st.sampled_from(["read", "send", "heard", "cut"]), max_size=60)


@settings(max_examples=200)
@given(STEPS)
def test_however_often_the_connection_is_lost_each_reading_is_taken_once(steps: list[str]) -> None:
    """The phone does as `static/sensor.js`: it keeps until `Kept`, and sends what is left again."""
    hand, now_s = connected(), 0.0
    waiting: list[float] = []
    sent: list[tuple[int, list[float]]] = []
    number, acknowledged = 0, 0
    read: list[float] = []
    found: list[float] = []
    for step in [*steps, "cut", "send"]:
        now_s += 0.1
        if step == "read":
            read.append(now_s)
            waiting.append(now_s)
        elif step == "send" and waiting:
            number += 1
            sent.append((number, waiting))
            readings = hand.take(held(number, waiting), now_s)
            found += [] if readings is None else readings.at_s.tolist()
            acknowledged, waiting = hand.taken, []
        elif step == "heard":  # what was acknowledged comes to the phone
            sent = [one for one in sent if one[0] > acknowledged]
        elif step == "cut":  # it may have heard of that or not: it is told again
            connected(now_s, hand=hand)
            left = [at for one, times in sent if one > hand.taken for at in times]
            waiting, sent, number = [*left, *waiting], [], hand.taken
    assert found == pytest.approx(read, abs=0.01)


@pytest.mark.parametrize("stage", ["level", "flying"])
def test_what_is_shown_of_how_it_is_held_ends_when_it_is_flown(stage: Stage) -> None:
    hand = connected()
    hand.hold(Hold(type="hold", do="learn"))
    shown: list[str] = [hand.holding.state]
    hand.stage = stage
    hand.take(held(1, [0.0]), 0.1)
    shown.append(hand.holding.state)
    hand.hold(Hold(type="hold", do="learn"))
    shown.append(hand.holding.state)
    assert shown == ["learning", stage, stage]


@pytest.mark.parametrize("slept_s", [5.0, 60.0, 3600.0])
def test_a_clock_that_stood_while_the_phone_slept_misplaces_nothing(slept_s: float) -> None:
    hand = connected()
    flown(hand, 0.0, 1.0, 5.0, 5.0)
    # Its clock goes on from where it stood, and nobody has asked it since.
    woke_s, ahead_s = 1.0 + slept_s, AHEAD_S - slept_s
    number = hand.taken + 1
    assert hand.take(held(number, [woke_s + 0.1], ahead_s=ahead_s), woke_s + 0.15) is None
    assert hand.clock.learn(exchange(woke_s + 0.5, ahead_s))
    readings = hand.placed(woke_s + 0.51)
    assert readings is not None
    assert readings.at_s == pytest.approx([woke_s + 0.1], abs=2 * HALF_S)


def test_a_clock_that_runs_into_the_future_waits_to_be_asked() -> None:
    hand = connected()
    assert hand.take(held(1, [0.1], ahead_s=AHEAD_S + 30.0), 0.2) is None
    hand.clock.learn(exchange(0.3, AHEAD_S + 30.0))
    readings = hand.placed(0.31)
    assert readings is not None
    assert readings.at_s == pytest.approx([0.1], abs=2 * HALF_S)


@given(st.lists(st.floats(-1e9, 1e9), max_size=60), st.integers(1, 5))
def test_whatever_times_it_tells_readings_are_in_order_and_not_of_the_future(
    at_s: list[float], number: int
) -> None:
    hand = connected()
    none = ((0.0, 0.0, 0.0, 0.0),) * len(at_s)
    spoilt = Held(type="held", number=number, at_s=tuple(at_s), quaternions=none)
    assert hand.take(spoilt, 0.1) is None
    fine = ((0.0, 0.0, 0.0, 1.0),) * len(at_s)
    told = Held(type="held", number=number + 1, at_s=tuple(at_s), quaternions=fine)
    hand.clock.learn(exchange(0.2))
    found = [one for one in (hand.take(told, 0.3), hand.placed(0.3)) if one is not None]
    times = [at for one in found for at in one.at_s]
    assert all(before < after for before, after in pairwise(times))
    assert all(at <= 0.4 for at in times)


def spoilt(**other: Any) -> dict[str, Any]:
    one: dict[str, Any] = {"type": "held", "number": 1, "at_s": [1.0]}
    return {**one, "quaternions": [[0.0, 0.0, 0.0, 1.0]], **other}


@pytest.mark.parametrize(
    "message",
    [
        spoilt(at_s=[1.0, 2.0]),
        spoilt(at_s=[]),
        spoilt(quaternions=[]),
        spoilt(angles=[[0.0, 0.0, 0.0]]),
        spoilt(quaternions=[[0.0, 0.0, 0.0, 7.0]]),
        spoilt(quaternions=[[0.0, 0.0, 1.0]]),
        spoilt(at_s=[float(one) for one in range(61)], quaternions=[[0.0, 0.0, 0.0, 1.0]] * 61),
        spoilt(number=-1),
    ],
)
def test_a_message_that_is_not_as_described_is_not_taken(message: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        from_hand.validate_python(message, strict=False)


def test_the_largest_message_fits_what_a_browser_may_send() -> None:
    one = [-0.12345] * 4
    text = str(spoilt(at_s=[123456.1234] * MOST_READINGS, quaternions=[one] * MOST_READINGS))
    assert len(text) < MESSAGE_BYTES


def test_it_is_told_what_to_do_at_every_stage_and_no_attitude_while_it_is_flown() -> None:
    hand, now_s = connected(), 0.0
    for stage, (words, hint) in STAGES.items():
        hand.stage = stage
        now_s = flown(hand, now_s, 0.5, 12.0, -20.0)
        told = hand.news(now_s)
        assert told is not None
        assert (told.state, told.words) == (stage, words)
        assert hint in told.hint
        assert not told.trouble
        shown = told.attitude, told.pitch_deg, told.bank_deg
        if stage in ("flying", "paused"):
            assert shown == ("", None, None)
        else:
            assert told.attitude == "nose 12° up, bank 20° left"
            assert (told.pitch_deg, told.bank_deg) == pytest.approx((12.0, -20.0), abs=0.2)


def test_news_is_told_once_and_after_it_came_back_again() -> None:
    hand = connected()
    now_s = flown(hand, 0.0, 0.5, 0.0, 0.0)
    assert hand.news(now_s) is not None
    assert hand.news(now_s + 0.01) is None
    assert hand.news(now_s + 0.5) is None
    hand.arrive(now_s + 0.6)
    assert hand.news(now_s + 0.7) is not None


@pytest.mark.parametrize(
    ("what", "trouble"),
    [("none", "no sensor"), *((one, one) for one in ("refused", "unasked", "hidden"))],
)
def test_what_became_of_the_sensor_is_told_until_it_reads(what: Any, trouble: Any) -> None:
    hand = connected()
    hand.sensing(Sensing(type="sensing", what=what))
    told = hand.news(0.1)
    assert told is not None and told.trouble == TROUBLES[trouble].sentence
    now_s = flown(hand, 0.1, 0.5, 0.0, 0.0)
    told = hand.news(now_s)
    assert told is not None and not told.trouble


def test_readings_that_end_are_missed_and_the_attitude_is_known_no_more() -> None:
    hand = connected()
    hand.stage = "level"
    now_s = flown(hand, 0.0, 1.0, 0.0, 0.0)
    assert hand.attitude is not None
    told = hand.news(now_s + 5.0)
    assert told is not None and told.trouble == TROUBLES["silent"].sentence
    assert hand.attitude is None and told.pitch_deg is None


@pytest.mark.parametrize("grip", [EASY, SIDEWAYS])
def test_how_it_is_held_is_learned_from_three_poses_any_time_and_again(grip: Grip) -> None:
    hand, now_s = connected(), 0.0
    assert hand.learned() is None
    for _ in range(2):
        hand.hold(Hold(type="hold", do="learn"))
        for pose, attitude in (("level", (0, 0)), ("nose up", (45, 0)), ("bank right", (0, 45))):
            told = hand.news(now_s + 0.3)
            assert told is not None
            assert (told.state, told.pose) == ("learning", pose)
            assert told.hint
            now_s = flown(hand, now_s, 2.0, *attitude, grip)
            hand.hold(Hold(type="hold", do="held"))
        learned = hand.learned()
        assert learned is not None
        assert (*learned.nose, *learned.top) == pytest.approx((*grip.nose, *grip.top), abs=0.02)
        assert hand.grip == learned
        assert hand.learned() is None
    now_s = flown(hand, now_s, 0.5, 20.0, -10.0, grip)
    assert hand.attitude == pytest.approx((20.0, -10.0), abs=1.0)
    hand.hold(Hold(type="hold", do="easy"))
    assert hand.grip == hand.learned() == EASY


def test_poses_that_contradict_each_other_are_to_be_shown_again() -> None:
    for quality_deg, asked in ((None, False), (UNSURE_DEG, False), (UNSURE_DEG + 1.0, True)):
        hand = Hand(grip=replace(EASY, quality_deg=quality_deg))
        assert (AGAIN in hand.holding.hint) is asked


TREMOR_DEG = np.random.default_rng(5).normal(0.0, 0.5, 500)


@pytest.mark.parametrize(
    ("trouble", "hz", "tremor"),
    [("few", 4, 1.0), ("frozen", 50, 0.0), ("lying", 50, 0.02), (None, 50, 1.0), (None, 20, 1.0)],
)
def test_what_is_wrong_with_its_readings_is_told_at_the_hand(
    trouble: Any, hz: int, tremor: float
) -> None:
    hand = connected()
    hand.stage = "flying"
    for number, turned_deg in enumerate(tremor * TREMOR_DEG[: 6 * hz]):
        one = quaternion(turned_deg, turned_deg)
        turned = ((one["x"], one["y"], one["z"], one["w"]),)
        at_s = number / hz
        told = Held(type="held", number=number + 1, at_s=(at_s + AHEAD_S,), quaternions=turned)
        hand.take(told, at_s + 0.05)
    holding = hand.news(6.0)
    assert holding is not None
    assert holding.trouble == (TROUBLES[trouble].sentence if trouble else "")


def test_a_pose_that_is_the_same_again_is_refused_in_one_sentence() -> None:
    hand = connected()
    hand.hold(Hold(type="hold", do="learn"))
    now_s = flown(hand, 0.0, 2.0, 0.0, 0.0)
    for _ in range(2):
        hand.hold(Hold(type="hold", do="held"))
    told = hand.news(now_s)
    assert told is not None
    assert (told.pose, told.trouble.count(".")) == ("nose up", 2)
    assert told.trouble.startswith("That is still level")


def test_what_claims_to_come_from_the_future_keeps_nothing_waiting() -> None:
    hand = connected()
    assert hand.take(held(1, [1000.0, 2000.0]), now_s=1.0) is None
    assert hand.take(held(2, [0.9, 0.92]), now_s=1.0) is None  # in turn
    hand.clock.learn(exchange(1.1))
    readings = hand.placed(1.2)
    assert readings is not None and readings.at_s == pytest.approx([0.9, 0.92], abs=0.01)
    assert hand.taken == 2


def test_a_phone_whose_clock_is_never_known_fills_no_memory() -> None:
    hand = Hand()
    hand.arrive(0.0)
    for number in range(1, 1000):
        assert hand.take(held(number, [number / 10]), now_s=number / 10) is None
    for number in range(SETTLED_AFTER):
        hand.clock.learn(exchange(100.0 + 0.1 * number))
    readings = hand.placed(101.0)
    assert readings is not None and len(readings) == MOST_WAITING
    assert hand.taken == 999
