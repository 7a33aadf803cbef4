"""Which presses are taps, whose they are, and what a typed number means."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.problems import Problem
from coach.taps.pressing import ALONE, REPEAT_S, TYPING_S, Hands, Press, tappers


def taps(presses: list[tuple[str, float]], hands: Hands) -> list[Press]:
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
    key: str, at: float, delay_s: float, period_s: float, for_s: float
) -> list[tuple[str, float]]:
    """What a terminal sends for a key held down."""
    count = max(0, int((for_s - delay_s) / period_s) + 1) if for_s >= delay_s else 0
    return [(key, at), *((key, at + delay_s + period_s * index) for index in range(count))]


@given(st.floats(0.2, 0.9), st.floats(0.015, 0.07), st.floats(1.1, 4.0), st.floats(0.0, 0.004))
def test_a_key_held_down_is_one_tap(
    delay_s: float, period_s: float, for_s: float, jitter_s: float
) -> None:
    presses = [
        (key, at + jitter_s * (index % 2))
        for index, (key, at) in enumerate(held(ALONE, 5.0, delay_s, period_s, for_s))
    ]
    assert taps(presses, alone()) == [Press("", 5.0)]


@given(st.lists(st.floats(REPEAT_S, 8.0), max_size=20))
def test_no_deliberate_tap_is_lost_however_fast(gaps: list[float]) -> None:
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
    assert hands.taken(2.0 + REPEAT_S) == [Press("", 2.0)]
    hands.press("3", 4.0)
    assert hands.taken(4.0 + REPEAT_S + TYPING_S + 0.01) == [Press("", 4.0, 30.0)]
    assert REPEAT_S + TYPING_S + 1 / 15 < 1.0


def test_digits_are_one_number_in_tens_at_the_time_of_the_first() -> None:
    presses = [("3", 2.0), ("1", 6.0), ("1", 6.3), ("6", 9.0), (ALONE, 9.2)]
    assert taps(presses, alone()) == [
        Press("", 2.0, 30.0), Press("", 6.0, 110.0), Press("", 9.0, 60.0), Press("", 9.2),
    ]  # fmt: skip


def test_a_digit_held_down_is_one_digit() -> None:
    assert taps(held("3", 2.0, 0.5, 0.03, 2.0), alone()) == [Press("", 2.0, 30.0)]


def test_students_at_one_keyboard_do_not_disturb_each_other() -> None:
    hands = Hands(tappers("Ada=a, Bo=l"))
    presses = sorted(
        [*held("a", 2.0, 0.4, 0.03, 2.0), ("l", 2.02), ("l", 3.1), ("x", 3.2), ("3", 3.3)],
        key=lambda press: press[1],
    )
    assert taps(presses, hands) == [Press("Ada", 2.0), Press("Bo", 2.02), Press("Bo", 3.1)]


def test_what_is_not_a_student_s_key_is_left_to_the_coach() -> None:
    assert not alone().press("p", 1.0)
    assert not Hands(tappers("Ada=a")).press("3", 1.0)
    assert alone().press("3", 1.0) and alone().press(ALONE, 1.0)


def test_starting_over_forgets_what_was_not_certain() -> None:
    hands = alone()
    hands.press(ALONE, 1.0)
    hands.press("3", 1.0)
    hands.forget()
    assert hands.taken(9.0) == []


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("Ada", "Found 'Ada', expected NAME=KEY"),
        ("Ada=a,", "Found '', expected NAME=KEY"),
        ("=a", "expected NAME=KEY"),
        ("Ada=a, Bo=a", "The key 'a' is Ada's"),
        ("Ada=a, Bo=A", "The key 'a' is Ada's"),
        ("Ada=a, Ada=b", "Ada stands there twice"),
        ("Ada=p", "Ada: found the key 'p', expected one letter other than"),
        ("Ada=7", "Ada: found the key '7'"),
        ("Ada=ab", "Ada: found the key 'ab'"),
    ],
)
def test_keys_that_cannot_be_shared_out_are_one_sentence(written: str, words: str) -> None:
    with pytest.raises(Problem, match=words):
        tappers(written)
