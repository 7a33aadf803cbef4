"""Which presses are taps, whose they are, and what a typed number means."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.problems import Problem
from coach.taps.pressing import (
    ALONE,
    DELAY_S,
    REPEAT_S,
    STILL_S,
    TYPING_S,
    Hands,
    Stroke,
    tappers,
)
from coach.taps.timing import BOUNCE_S


def taps(presses: list[tuple[str, float]], hands: Hands) -> list[Stroke]:
    """Everything the hands did, asked for fifteen times a second as a run does."""
    found, frame = [], 0.0
    for key, at in presses:
        while frame < at:
            found += hands.taken(frame)
            frame += 1 / 15
        hands.press(key, at)
    return found + hands.taken(frame + 10.0)


def alone() -> Hands:
    return Hands({ALONE: ""}, numbers=True)


def held(
    key: str, at: float, delay_s: float, period_s: float, repeats: int
) -> list[tuple[str, float]]:
    """What a terminal sends for a key held down."""
    return [(key, at), *((key, at + delay_s + period_s * index) for index in range(repeats))]


# Delays and rates that keyboards can be set to (from memory): 0.25 to 1 s and 2 to 30 a second;
# one system repeats 11 times a second unless told otherwise, another one 25 times.
@given(
    delay_s=st.floats(0.2, 1.0),
    period_s=st.floats(0.016, 0.115),
    repeats=st.integers(2, 60),
    jitter_s=st.floats(0.0, 0.008),
    before_s=st.floats(0.2, 3.0),
)
def test_a_key_held_down_is_one_tap(
    delay_s: float, period_s: float, repeats: int, jitter_s: float, before_s: float
) -> None:
    presses = [(ALONE, 5.0 - before_s)] + [
        (key, at + jitter_s * (index % 2))
        for index, (key, at) in enumerate(held(ALONE, 5.0, delay_s, period_s, repeats))
    ]
    assert taps(presses, alone()) == [Stroke("", 5.0 - before_s), Stroke("", 5.0)]


def test_repeats_that_a_busy_machine_hands_over_at_once_are_no_taps() -> None:
    late = [(ALONE, 5.0), *[(ALONE, 5.9)] * 12, (ALONE, 5.94), (ALONE, 5.97)]
    assert taps(late, alone()) == [Stroke("", 5.0)]


@given(period_s=st.floats(0.016, 0.115), repeats=st.integers(2, 20), stall_s=st.floats(0.0, 0.98))
def test_a_key_held_down_is_one_tap_though_the_machine_stalls(
    period_s: float, repeats: int, stall_s: float
) -> None:
    before = held(ALONE, 5.0, 0.5, period_s, repeats)
    after = [(key, at + before[-1][1] + stall_s - 5.0) for key, at in before[1:]]
    resumed = [(key, at - 0.5 + period_s) for key, at in after]
    assert taps([*before, *resumed], alone()) == [Stroke("", 5.0)]


def test_a_key_let_go_after_its_first_repeat_cannot_be_told_from_two_taps() -> None:
    assert len(taps(held(ALONE, 5.0, 0.5, 0.03, 1), alone())) == 2


@given(st.lists(st.tuples(st.floats(BOUNCE_S, DELAY_S), st.floats(STILL_S, 8.0)), max_size=20))
def test_two_taps_after_a_rest_are_two_however_fast(doubles: list[tuple[float, float]]) -> None:
    times, at = [], 1.0
    for quick, rest in doubles:
        times += [at, at + quick + 1e-6]
        at += quick + rest + 1e-5
    assert [tap.at for tap in taps([(ALONE, time) for time in times], alone())] == times


@given(st.lists(st.floats(REPEAT_S, 8.0), max_size=20))
def test_taps_as_quick_as_a_finger_can_go_on_tapping_are_all_kept(gaps: list[float]) -> None:
    times, at = [], 1.0
    for gap in gaps:
        at += gap + 1e-6
        times.append(at)
    assert [tap.at for tap in taps([(ALONE, time) for time in times], alone())] == times


def test_a_bouncing_key_is_one_tap() -> None:
    presses = [(ALONE, 3.0), (ALONE, 3.004), (ALONE, 3.02), (ALONE, 6.0), (ALONE, 6.05)]
    assert [tap.at for tap in taps(presses, alone())] == [3.0, 6.0]


def test_a_tap_is_certain_soon_enough_to_be_on_disk_within_a_second() -> None:
    hands = alone()
    hands.press(ALONE, 2.0)
    assert hands.taken(2.0 + REPEAT_S / 2) == []
    assert hands.taken(2.0 + REPEAT_S) == [Stroke("", 2.0)]
    hands.press("3", 4.0)
    assert hands.taken(4.0 + REPEAT_S + TYPING_S + 0.01) == [Stroke("", 4.0, 30.0)]
    assert REPEAT_S + TYPING_S + 1 / 15 < 1.0


def test_digits_are_one_number_in_tens_at_the_time_of_the_first() -> None:
    presses = [("3", 2.0), ("1", 6.0), ("1", 6.3), ("6", 9.0), (ALONE, 9.2)]
    assert taps(presses, alone()) == [
        Stroke("", 2.0, 30.0), Stroke("", 6.0, 110.0), Stroke("", 9.0, 60.0), Stroke("", 9.2),
    ]  # fmt: skip


def test_digits_stay_in_their_order_however_their_presses_become_certain() -> None:
    assert taps([("1", 2.0), ("2", 2.02), ("2", 2.11)], alone()) == [Stroke("", 2.0, 1220.0)]


@given(st.text("0123456789", max_size=500))
def test_whoever_plays_with_the_digits_gets_numbers_and_no_end(text: str) -> None:
    found = taps([(digit, 1.0 + 0.13 * index) for index, digit in enumerate(text)], alone())
    assert all(press.value is not None and press.value < 1e5 for press in found)
    assert len(found) <= len(text) // 4 + 1


def test_a_digit_held_down_is_one_digit() -> None:
    assert taps(held("3", 2.0, 0.5, 0.03, 50), alone()) == [Stroke("", 2.0, 30.0)]


def test_students_at_one_keyboard_do_not_disturb_each_other() -> None:
    hands = Hands(tappers("Ada=a, Bo=l"))
    presses = sorted(
        [*held("a", 2.0, 0.4, 0.03, 50), ("l", 2.02), ("l", 3.1), ("x", 3.2), ("3", 3.3)],
        key=lambda press: press[1],
    )
    assert taps(presses, hands) == [Stroke("Ada", 2.0), Stroke("Bo", 2.02), Stroke("Bo", 3.1)]


def test_what_is_not_a_student_s_key_is_left_to_the_coach() -> None:
    assert not alone().press("p", 1.0)
    assert not Hands(tappers("Ada=a")).press("3", 1.0)
    assert not Hands(tappers("Ada=a, Bo=l"), numbers=True).press("3", 1.0)
    assert alone().press("3", 1.0) and alone().press(ALONE, 1.0)


def test_starting_over_forgets_what_was_not_certain() -> None:
    hands = alone()
    hands.press(ALONE, 1.0)
    hands.press("3", 1.0)
    hands.taken(1.2)
    hands.press(ALONE, 1.2)
    hands.forget()
    assert hands.taken(9.0) == []


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("Ada", "Found 'Ada', expected NAME=KEY"),
        ("Ada=a,", "Found '', expected NAME=KEY"),
        ("=a", "expected NAME=KEY"),
        ("Ada=", "expected NAME=KEY"),
        ("", "Found '', expected NAME=KEY"),
        ("Ada=space", "Ada: found the key 'space', expected one letter"),
        ("Ada=a, Bo=a", "The key 'a' is given twice, to Ada and to Bo: each needs one."),
        ("Ada=a, Cy=c, Bo=A", "The key 'a' is given twice, to Ada and to Bo: each needs one."),
        ("Ada=a, Ada=b", "Ada stands there twice"),
        ("Ada=p", "Ada: found the key 'p', expected one letter other than"),
        ("Ada=7", "Ada: found the key '7'"),
        ("Ada=ab", "Ada: found the key 'ab'"),
    ],
)
def test_keys_that_cannot_be_shared_out_are_one_sentence(written: str, words: str) -> None:
    with pytest.raises(Problem, match=words):
        tappers(written)
