"""Promises of a hand that flies along: what of its readings is kept where, and what is told of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from coach.callouts.cuesheet import Course, CueSheet
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.hand.grip import EASY, Grip
from coach.hand.motion import Motion
from coach.hand.off import BACK_S, LOST_S, OFF_S
from coach.hand.readings import NONE, Readings
from coach.rehearsal.attempt import EARLIEST_TAP_S
from coach.rehearsal.moving import SENSOR_S, Moving
from coach.rehearsal.ready import fly
from coach.shelf import AIRPLANE
from tests.hand.simulated import Simulated, mounting, planned

START_S = 12.0
"""Of the flight on the soundtrack."""

BEGUN_S = 1000.0
"""Of the sound on the machine's clock."""

flight = lru_cache(lambda name: fly(name, AIRPLANE, Day()))


def rehearsal(maneuver: str = "chandelle", pace: float = 1.0) -> Any:
    """Enough of one for a hand."""

    @dataclass(frozen=True)
    class Enough:
        flight: Flight
        sheet: CueSheet

    flown, still = flight(maneuver), np.zeros(2)
    length_s = START_S + flown.length_s / pace
    course = Course(np.array([0.0, length_s]), still, still, still, still)
    return Enough(flown, CueSheet((), (), START_S, length_s, pace, "tones", course))


@dataclass(frozen=True)
class Sound:
    """What is heard when: it stands from each of these seconds since it began for so long."""

    pauses: tuple[tuple[float, float], ...] = ()

    def position_s(self, at_s: float) -> float | None:
        here_s = at_s - BEGUN_S
        for from_s, for_s in self.pauses:
            if from_s <= at_s - BEGUN_S < from_s + for_s:
                return None
            if at_s - BEGUN_S >= from_s + for_s:
                here_s -= for_s
        return max(here_s, 0.0)


SOUND = Sound()


def readings(
    maneuver: str = "chandelle",
    pace: float = 1.0,
    sound: Sound = SOUND,
    grip: Grip = EASY,
    rate_hz: float = 50.0,
    **errors: Any,
) -> Readings:
    """What a hand that knows the plan gives from the sound's begin to its end."""
    flown = flight(maneuver)
    hand = Simulated(planned(flown, 10.0), rate_hz=rate_hz, **{"seed": 4, **errors})
    ends_s = START_S + flown.length_s / pace + sum(for_s for _, for_s in sound.pauses)
    at_s = np.arange(BEGUN_S, BEGUN_S + ends_s + 2.0, 1.0 / rate_hz)
    known_s = 0.0
    flown_s = []
    for at in at_s.tolist():
        position = sound.position_s(at)
        known_s = known_s if position is None else (position - START_S) * pace
        flown_s.append(known_s)
    return Readings(at_s + SENSOR_S, hand.up(flown_s, grip))


def batches(all_of_it: Readings, size: int = 5) -> list[Readings]:
    parts = range(0, len(all_of_it), size)
    return [Readings(all_of_it.at_s[at : at + size], all_of_it.up[at : at + size]) for at in parts]


def taken(moving: Moving, parts: list[Readings], sound: Sound = SOUND) -> Motion:
    return Motion().joined(*(moving.take(part, sound.position_s, 0.01) for part in parts))


def errors_deg(motion: Motion, maneuver: str = "chandelle") -> np.ndarray[Any, Any]:
    """How far each reading lies from the plan, in pitch or in bank, whichever is more."""
    table = flight(maneuver).at(motion.time_s)
    return np.maximum(
        np.abs(np.array(motion.pitch_deg) - table["pitch_deg"]),
        np.abs(np.array(motion.bank_deg) - table["bank_deg"]),
    )


QUIET: dict[str, Any] = {"noise_deg": 0.0, "drift_deg_per_min": 0.0, "delay_s": 0.0}


def spoiled(grip: Grip, pitch_deg: float, bank_deg: float) -> Grip:
    """A grip that calls so much pitch and bank level."""
    sine, cosine = np.sin(np.radians(pitch_deg)), np.cos(np.radians(pitch_deg))
    bank = np.radians(bank_deg)
    nose, top = np.array(grip.nose), np.array(grip.top)
    up = sine * nose - np.sin(bank) * cosine * np.cross(nose, top) + np.cos(bank) * cosine * top
    return grip.levelled(up)


@pytest.mark.parametrize("pace", [1.0, 0.5, 1.3])
def test_what_a_hand_flies_lies_where_it_was_heard(pace: float) -> None:
    motion = taken(Moving(rehearsal(pace=pace)), batches(readings(pace=pace, **QUIET)))
    assert errors_deg(motion).max() < 0.2
    length_s = flight("chandelle").length_s
    assert EARLIEST_TAP_S <= motion.time_s[0] < EARLIEST_TAP_S + 0.1
    assert length_s - 0.1 < motion.time_s[-1] <= length_s
    assert len(motion) == pytest.approx((length_s - EARLIEST_TAP_S) / pace * 50.0, abs=3)
    # The clock's doubt of a hundredth of a second and the sensor's of two, in the flight's seconds.
    assert motion.doubt_s == pytest.approx(0.03 * pace)


@settings(max_examples=8)
@given(
    st.integers(0, 2**32 - 1),
    st.lists(st.tuples(st.floats(0.5, 70.0), st.floats(0.1, 8.0)), max_size=3),
    st.sampled_from([0.5, 1.0]),
    st.integers(1, 60),
)
def test_batches_may_be_late_and_come_twice_and_the_sound_may_stand(
    seed: int, pauses: list[tuple[float, float]], pace: float, size: int
) -> None:
    begins, stands = 0.0, []
    for from_s, for_s in sorted(pauses):
        begins = max(begins, from_s)
        stands.append((begins, for_s))
        begins += for_s + 0.1
    sound = Sound(tuple(stands))
    parts = batches(readings(pace=pace, sound=sound, rate_hz=10.0, **QUIET), size)
    in_order = taken(Moving(rehearsal(pace=pace)), parts, sound)
    random = np.random.default_rng(seed)
    # Each as much as two seconds late, one in three a second time; those before the flight in time,
    # for by then its level is settled.
    due = [(part.at_s[-1] + random.uniform(0.0, 2.0), part) for part in parts]
    due = [
        (part.at_s[-1] if (sound.position_s(part.at_s[0]) or 0.0) <= START_S else at, part)
        for at, part in due
    ]
    due += [(at + random.uniform(0.0, 3.0), part) for at, part in due if random.random() < 0.33]
    late = taken(
        Moving(rehearsal(pace=pace)), [part for _, part in sorted(due, key=lambda d: d[0])], sound
    )
    assert late == in_order
    assert all(after - before > 0.001 for before, after in pairwise(late.time_s))
    assert errors_deg(late).max() < 0.2


def test_what_is_heard_twice_is_kept_as_it_was_flown_first() -> None:
    def heard(at_s: float) -> float:  # the device was gone, and the sound went back half a second
        here_s = at_s - BEGUN_S
        return here_s if here_s < 30.0 else here_s - 0.5

    whole = readings(**QUIET)
    first = whole.at_s - SENSOR_S < BEGUN_S + 30.0
    up = np.where(first[:, np.newaxis], whole.up, np.array([0.0, 0.0, 1.0]))
    moving = Moving(rehearsal())
    motion = Motion().joined(
        *(moving.take(part, heard, 0.0) for part in batches(Readings(whole.at_s, up)))
    )
    before = np.array(motion.time_s) < 30.0 - START_S
    assert errors_deg(motion)[before].max() < 0.2
    assert all(bank == 0.0 for bank in np.round(np.array(motion.bank_deg)[~before], 6))


@pytest.mark.parametrize("seed", range(12))
def test_the_fresh_level_takes_off_how_the_phone_lies_today(seed: int) -> None:
    random = np.random.default_rng(seed)
    true = mounting(seed)
    known = spoiled(true, *random.uniform(-7.0, 7.0, 2))
    moving = Moving(rehearsal(), known)
    motion = taken(moving, batches(readings(grip=true, seed=seed)))
    nose_deg, top_deg = (
        np.degrees(np.arccos(np.dot(getattr(moving.grip, axis), getattr(true, axis))))
        for axis in ("nose", "top")
    )
    assert top_deg < 1.5
    flown = np.array(motion.time_s) > 0.0
    assert np.sqrt((errors_deg(motion)[flown] ** 2).mean()) < 3.0
    assert nose_deg < 3.0


@pytest.mark.parametrize("what", ["unsteady", "moving", "far", "absent"])
def test_a_level_that_is_not_clear_leaves_the_old_one(what: str) -> None:
    whole = readings(**QUIET)
    seconds = whole.at_s - BEGUN_S - START_S
    before = (seconds > -4.0) & (seconds < 0.0)
    bank = {
        "unsteady": 14.0 * np.sin(9.0 * seconds),
        "moving": 8.0 + 3.0 * seconds,
        "far": 15.0 + 0.0 * seconds,
        "absent": 5.0 + 0.0 * seconds,
    }[what]
    turned = Rotation.from_rotvec(np.outer(np.radians(bank), [0.0, 1.0, 0.0])).inv().apply(whole.up)
    up = np.where(before[:, np.newaxis], turned, whole.up)
    kept = ~before | (what != "absent")
    moving = Moving(rehearsal())
    taken(moving, batches(Readings(whole.at_s[kept], up[kept])))
    assert moving.grip == EASY


@pytest.mark.parametrize(
    "held_deg, level_deg",
    [
        pytest.param(-6.0, 0.0, id="as the maneuver begins"),
        pytest.param(-4.6, 1.4, id="as it begins, by a phone that sits differently"),
        pytest.param(0.5, 0.5, id="level"),
        pytest.param(-3.0, 0.0, id="neither clearly"),
        pytest.param(-19.0, 0.0, id="neither at all"),
    ],
)
def test_a_maneuver_that_does_not_begin_level_is_waited_for_as_it_begins_or_level(
    held_deg: float, level_deg: float
) -> None:
    maneuver = "steep-spiral"
    assert flight(maneuver).at([0.0])["pitch_deg"][0] == pytest.approx(-6.0, abs=0.1)
    at_s = np.arange(BEGUN_S, BEGUN_S + START_S + 1.0, 0.02)
    up = np.tile([0.0, np.sin(np.radians(held_deg)), np.cos(np.radians(held_deg))], (len(at_s), 1))
    moving = Moving(rehearsal(maneuver))
    taken(moving, batches(Readings(at_s, up)))
    level = np.degrees(np.arcsin(moving.grip.top[1]))
    assert level == pytest.approx(level_deg, abs=0.1)


def test_each_attempt_begins_anew_and_what_is_late_of_the_one_before_is_of_none() -> None:
    whole = batches(readings(**QUIET))
    moving, plan = Moving(rehearsal()), rehearsal()
    again_s = BEGUN_S + 30.0
    first = [part for part in whole if part.at_s[-1] < again_s]
    held_back = first.pop(-30)
    assert len(taken(moving, first))

    def heard(at_s: float) -> float:  # the sound is back a little after that was asked for
        return at_s - BEGUN_S if at_s < again_s + 0.3 else at_s - again_s - 0.3

    moving.restart(again_s)
    assert moving.live(again_s).state == "lost"
    assert moving.take(held_back, heard, 0.0) == Motion()
    late = [part for part in whole if again_s - 0.5 < part.at_s[0] < again_s + 0.3]
    assert not any(len(moving.take(part, heard, 0.0)) for part in late)
    shifted = [Readings(part.at_s + 30.3, part.up) for part in whole]
    second = Motion().joined(*(moving.take(part, heard, 0.0) for part in shifted))
    assert errors_deg(second).max() < 0.2
    assert second.time_s[0] < 0.0 and second.time_s[-1] > plan.flight.length_s - 0.1


def test_a_grip_that_is_shown_anew_counts_from_then_on_and_the_same_keeps_its_level() -> None:
    moving = Moving(rehearsal(), spoiled(EASY, 4.0, 0.0))
    taken(moving, batches(readings(**QUIET)))
    fresh = moving.grip
    moving.follow(spoiled(EASY, 4.0, 0.0), [], SOUND.position_s, 0.0)
    assert moving.grip is fresh
    moving.follow(mounting(1), [], SOUND.position_s, 0.0)
    assert moving.grip == mounting(1)


def test_a_hand_is_joined_then_level_then_flying_and_lost_where_nothing_comes() -> None:
    moving, states = Moving(rehearsal()), []
    whole = readings()
    assert moving.live(BEGUN_S).state == "lost"
    for part in batches(whole):
        moving.take(part, SOUND.position_s, 0.0)
        states.append(moving.live(float(part.at_s[-1])).state)
    assert list(dict.fromkeys(states)) == ["joined", "level", "flying"]
    assert states == sorted(states, key=["joined", "level", "flying"].index)
    last_s = float(whole.at_s[-1])
    assert moving.live(last_s + LOST_S).state == "flying"
    lost = moving.live(last_s + LOST_S + 0.1)
    assert (lost.state, lost.pitch_deg, lost.bank_deg, lost.off) == ("lost", None, None, False)
    # Two readings a second are none that a hand can be followed by, but they are there.
    assert moving.take(NONE, SOUND.position_s, 0.0) == Motion()


def test_the_live_attitude_is_that_of_now_beside_the_plan_of_now() -> None:
    moving = Moving(rehearsal())
    for part in batches(readings(**QUIET)):
        moving.take(part, SOUND.position_s, 0.0)
        live = moving.live(float(part.at_s[-1]))
        assert live.pitch_deg == pytest.approx(live.planned_pitch_deg, abs=0.3)
        assert live.bank_deg == pytest.approx(live.planned_bank_deg, abs=0.3)
        # The mean of a quarter of a second is an eighth of one old.
        flown_s = max(0.0, float(part.at_s[-1]) - SENSOR_S - BEGUN_S - START_S - 0.12)
        if flown_s < flight("chandelle").length_s - 1.0:
            bank = flight("chandelle").at([flown_s])["bank_deg"][0]
            assert live.planned_bank_deg == pytest.approx(bank, abs=0.3)


def offs(bank_deg: np.ndarray[Any, Any], tone_deg: float = 10.0) -> list[tuple[float, bool]]:
    """When it is told from then on that a hand is off, or is no more, that banks so in level
    flight; seconds since the first moment."""
    flown = "descent-at-constant-speed"
    times = np.arange(len(bank_deg)) / 50.0
    at_s = BEGUN_S + START_S + times
    radians = np.radians(bank_deg)
    up = np.column_stack([-np.sin(radians), 0.0 * times, np.cos(radians)])
    moving, told = Moving(rehearsal(flown), tone_deg=tone_deg), [(0.0, False)]
    for part in batches(Readings(at_s, up)):
        moving.take(part, SOUND.position_s, 0.0)
        off = moving.live(float(part.at_s[-1])).off
        if off != told[-1][1]:
            told.append((float(part.at_s[-1]) - BEGUN_S - START_S, off))
    return told[1:]


def test_a_hand_is_off_after_a_second_and_no_more_when_it_is_well_back() -> None:
    seconds = np.arange(0.0, 20.0, 0.02)
    bank = np.where((seconds > 5.0) & (seconds < 10.0), 25.0, 0.0)
    (begins, is_off), (ends, is_still_off) = offs(bank)
    assert (is_off, is_still_off) == (True, False)
    assert begins == pytest.approx(5.0 + OFF_S, abs=0.35) and begins > 5.0 + OFF_S
    assert ends == pytest.approx(10.0 + BACK_S, abs=0.35)
    assert offs(np.where((seconds > 5.0) & (seconds < 5.9), 25.0, 0.0)) == []
    assert offs(bank, tone_deg=0.0) == []


@settings(max_examples=10)
@given(st.integers(0, 2**32 - 1), st.floats(4.0, 16.0), st.floats(0.5, 8.0))
def test_what_is_said_of_being_off_does_not_flicker(seed: int, mean: float, noise: float) -> None:
    bank = mean + noise * np.random.default_rng(seed).standard_normal(1000)
    changes = offs(bank)
    assert all(later - earlier >= BACK_S for (earlier, _), (later, _) in pairwise(changes))
    assert all(one[1] != other[1] for one, other in pairwise(changes))
    # A hand that is held steadily is called one thing or the other, once.
    steady = offs(mean + 0.1 * bank - 0.1 * mean)
    assert len(steady) <= 1


def test_what_was_not_seen_is_not_called_off() -> None:
    moving = Moving(rehearsal("climb-at-constant-speed"), tone_deg=10.0)
    at_s = BEGUN_S + START_S + np.array([1.0, 1.02, 4.0, 4.02, 7.0, 7.02])
    up = np.tile([-np.sin(0.5), 0.0, np.cos(0.5)], (6, 1))
    for part in batches(Readings(at_s, up), 2):
        moving.take(part, SOUND.position_s, 0.0)
        assert not moving.live(float(part.at_s[-1])).off


def test_what_is_read_while_nothing_is_heard_is_not_gathered_for_the_level() -> None:
    """Or a phone that waits for an hour in the count-in costs more and more with every message."""
    moving = Moving(rehearsal())
    for at_s in np.arange(BEGUN_S, BEGUN_S + 100.0, 0.1):
        moving.take(Readings(np.array([at_s]), np.array([[0.0, 0.0, 1.0]])), lambda _: None, 0.0)
    assert len(moving._before) == 0
