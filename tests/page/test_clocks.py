"""A browser's clock is known from exchanges alone, within what they allow."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.page.server.clocks import BrowserClock, Exchange, Loudspeaker

delays = st.floats(0.0005, 0.2)


def exchanged(
    room_s: float, ahead_s: float, out_s: float, back_s: float, drift: float = 0.0
) -> Exchange:
    """One exchange with a browser that is ahead, and ever more so; it answers after 1 ms."""

    def browser_s(at_s: float) -> float:
        return at_s + ahead_s + drift * at_s

    received = room_s + out_s
    answered = received + 0.001
    return Exchange(room_s, browser_s(received), browser_s(answered), answered + back_s)


def test_the_worked_example_of_four_times() -> None:
    # RFC 5905, section 8: offset = ((T2 - T1) + (T3 - T4)) / 2, delay = (T4 - T1) - (T3 - T2).
    one = Exchange(asked_s=10.0, received_s=13.1, answered_s=13.2, heard_s=10.4)
    assert one.offset_s == pytest.approx(2.95)
    assert one.delay_s == pytest.approx(0.3)


@settings(max_examples=60, deadline=None)
@given(
    ahead_s=st.floats(-1e5, 1e5),
    drift=st.floats(-50e-6, 50e-6),
    ways=st.lists(st.tuples(delays, delays), min_size=5, max_size=40),
)
def test_the_truth_is_never_further_off_than_the_uncertainty_says(
    ahead_s: float, drift: float, ways: list[tuple[float, float]]
) -> None:
    clock = BrowserClock()
    for number, (out_s, back_s) in enumerate(ways):
        assert not clock.learn(exchanged(2.0 * number, ahead_s, out_s, back_s, drift))
    relation = clock.relation
    assert relation is not None and clock.settled
    truth_s = ahead_s + drift * relation.at_s
    assert abs(relation.offset_s - truth_s) <= relation.uncertainty_s + 1e-3
    assert relation.uncertainty_s <= min(out + back for out, back in ways) / 2.0 + 0.009


def test_long_exchanges_do_no_harm_and_the_best_of_each_direction_counts() -> None:
    clock = BrowserClock()
    clock.learn(exchanged(0.0, 5.0, 0.004, 0.180))
    clock.learn(exchanged(2.0, 5.0, 0.160, 0.005))
    relation = clock.relation
    assert relation is not None
    assert relation.offset_s == pytest.approx(5.0, abs=0.002)
    assert relation.uncertainty_s < 0.006


def test_drift_is_followed_over_minutes() -> None:
    clock, chance = BrowserClock(), random.Random(7)
    for number in range(120):
        out_s, back_s = 0.002 + chance.expovariate(2000.0), 0.002 + chance.expovariate(2000.0)
        assert not clock.learn(exchanged(2.0 * number, 3.0, out_s, back_s, 80e-6))
    relation = clock.relation
    assert relation is not None
    assert relation.drift == pytest.approx(80e-6, abs=10e-6)
    # A tap ten seconds on, before the next exchange.
    assert relation.room_s(3.0 + 250.0 * (1.0 + 80e-6)) == pytest.approx(250.0, abs=0.002)


@pytest.mark.parametrize("drift", [-100e-6, 30e-6, 100e-6])
@pytest.mark.parametrize(("jitter_s", "close_s"), [(0.0005, 0.001), (0.005, 0.002), (0.05, 0.02)])
def test_through_ten_minutes_of_drift_the_truth_stays_within_the_uncertainty(
    drift: float, jitter_s: float, close_s: float
) -> None:
    clock, chance = BrowserClock(), random.Random(11)
    for number in range(300):  # one every two seconds
        out_s, back_s = (0.01 + chance.expovariate(1.0 / jitter_s) for _ in range(2))
        assert not clock.learn(exchanged(2.0 * number, 50.0, out_s, back_s, drift))
        relation = clock.relation
        assert relation is not None
        error_s = relation.offset_s - (50.0 + drift * relation.at_s)
        assert abs(error_s) <= relation.uncertainty_s
    # The oldest exchange that is kept would be 24 ms off at 100e-6, were the drift not followed.
    assert abs(error_s) < close_s


@pytest.mark.parametrize("jump_s", [-30.0, -0.1, 0.1, 3600.0])
def test_a_clock_that_jumps_is_noticed_and_learned_anew(jump_s: float) -> None:
    clock = BrowserClock()
    for number in range(10):
        clock.learn(exchanged(2.0 * number, 1.0, 0.010, 0.012))
    assert clock.learn(exchanged(20.0, 1.0 + jump_s, 0.010, 0.012))
    assert not clock.settled
    relation = clock.relation
    assert relation is not None
    assert relation.offset_s == pytest.approx(1.0 + jump_s, abs=0.012)


def test_an_exchange_that_took_less_than_no_time_is_left_out() -> None:
    clock = BrowserClock()
    assert not clock.learn(Exchange(1.0, 5.0, 9.0, 1.1))
    assert clock.relation is None


def test_the_position_moves_with_the_room_and_a_late_report_moves_it_little() -> None:
    sound, chance = Loudspeaker(), random.Random(3)
    for number in range(30):
        at_s = 100.0 + 0.5 * number
        sound.heard(at_s, at_s - 100.0 + chance.gauss(0.0, 0.003), playing=True)
    assert sound.position_s(107.25) == pytest.approx(7.25, abs=0.004)


def test_a_pause_is_no_part_of_the_flight_and_what_came_before_it_stays() -> None:
    sound = Loudspeaker()
    sound.heard(10.0, 0.0, playing=True)
    sound.heard(15.0, 5.0, playing=False)
    sound.heard(25.0, 5.0, playing=True)
    assert sound.position_s(14.0) == pytest.approx(4.0)
    assert sound.position_s(20.0) is None
    assert sound.position_s(26.0) == pytest.approx(6.0)


def test_sound_that_jumps_is_followed_from_there_on() -> None:
    sound = Loudspeaker()
    for number in range(10):
        sound.heard(float(number), float(number), playing=True)
    sound.heard(10.0, 3.0, playing=True)
    assert sound.position_s(9.0) == pytest.approx(9.0)
    assert sound.position_s(11.0) == pytest.approx(4.0)
