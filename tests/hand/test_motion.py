"""A hand's motion: joined in time, and packed in few bytes that cannot be damaged unnoticed."""

from __future__ import annotations

import zlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.hand.motion import MOST_READINGS, STEP_DEG, TICK_S, Motion, unpacked
from coach.problems import Problem
from tests.hand.simulated import Simulated

angles = st.floats(-180.0, 180.0)
rows = st.lists(st.tuples(st.integers(-20_000, 600_000), angles, angles), max_size=40)


def motion_of(rows: list[tuple[int, float, float]], unit: float = 1e-3) -> Motion:
    placed = sorted({at: (at * unit, pitch, bank) for at, pitch, bank in rows}.values())
    time_s, pitch_deg, bank_deg = zip(*placed, strict=True) if placed else ((), (), ())
    return Motion(time_s, pitch_deg, bank_deg)


@settings(max_examples=40)
@given(rows, st.integers(0, 3))
def test_what_was_packed_comes_out_again_to_a_tick_and_a_hundredth_of_a_degree(
    rows: list[tuple[int, float, float]], doubt: int
) -> None:
    motion = motion_of(rows, 1.7e-3)
    motion = Motion(motion.time_s, motion.pitch_deg, motion.bank_deg, doubt * 0.01)
    again = unpacked(motion.packed())
    assert again.doubt_s == pytest.approx(motion.doubt_s)
    assert again.time_s == pytest.approx(motion.time_s, abs=0.5001 * TICK_S)
    assert again.pitch_deg == pytest.approx(motion.pitch_deg, abs=0.5001 * STEP_DEG)
    assert again.bank_deg == pytest.approx(motion.bank_deg, abs=0.5001 * STEP_DEG)
    assert again.packed() == motion.packed()
    assert unpacked(again.packed()) == again


def test_readings_on_one_tick_are_packed_as_one() -> None:
    assert unpacked(Motion((1.0, 1.0002, 1.5), (1.0, 2.0, 3.0), (0.0,) * 3).packed()) == Motion(
        (1.0, 1.5), (1.0, 3.0), (0.0, 0.0)
    )


def test_a_minute_of_an_unsteady_hand_at_60_hz_takes_less_than_20_kb(lazy_plan: Motion) -> None:
    for seed in range(3):
        motion = Simulated(lazy_plan, seed, rate_hz=60.0).motion()
        assert len(motion.packed()) < 20_000 * motion.time_s[-1] / 60.0


@settings(max_examples=40)
@given(rows, st.data())
def test_damaged_bytes_are_one_sentence_or_a_motion_that_is_in_order(
    rows: list[tuple[int, float, float]], data: st.DataObject
) -> None:
    packed = bytearray(motion_of(rows).packed())
    for _ in range(data.draw(st.integers(1, 3))):
        packed[data.draw(st.integers(0, len(packed) - 1))] = data.draw(st.integers(0, 255))
    cut = data.draw(st.sampled_from([None, -1, len(packed) // 2, 0]))
    try:
        found = unpacked(bytes(packed[:cut]))
    except Problem as problem:
        assert "\n" not in str(problem)
    else:
        assert list(found.time_s) == sorted(set(found.time_s))


def test_another_kind_too_many_readings_and_bytes_that_swell_are_refused() -> None:
    packed = Motion((0.0, 0.1), (1.0, 2.0), (3.0, 4.0)).packed()
    with pytest.raises(Problem, match="kind 9"):
        unpacked(b"\x09" + packed[1:])
    with pytest.raises(Problem, match="damaged"):
        unpacked(packed + b"more")
    swollen = packed[:1] + (MOST_READINGS + 1).to_bytes(4, "little") + packed[5:]
    with pytest.raises(Problem, match="damaged"):
        unpacked(swollen)
    with pytest.raises(Problem, match="damaged"):
        unpacked(packed[:7] + zlib.compress(bytes(50_000_000)))


@pytest.mark.parametrize(
    ("motion", "said"),
    [
        (Motion((0.0, 0.0), (0.0, 0.0), (0.0, 0.0)), "must increase"),
        (Motion((0.0,), (0.0, 0.0), (0.0, 0.0)), "as many angles as times"),
        (Motion((1e9,), (0.0,), (0.0,)), "its times"),
        (Motion((float("nan"),), (0.0,), (0.0,)), "its times"),
        (Motion((0.0,), (float("inf"),), (0.0,)), "its angles"),
        (Motion((0.0,), (0.0,), (float("nan"),)), "its angles"),
        (Motion((0.0,), (0.0,), (0.0,), -1.0), "its doubt"),
    ],
)
def test_what_no_hand_can_have_done_is_not_packed(motion: Motion, said: str) -> None:
    with pytest.raises(Problem, match=said):
        motion.packed()


@settings(max_examples=40)
@given(rows, st.data())
def test_parts_of_a_motion_join_to_the_whole_in_any_order(
    rows: list[tuple[int, float, float]], data: st.DataObject
) -> None:
    whole = motion_of(rows)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(whole)), max_size=4)))
    parts = [
        Motion(whole.time_s[begin:end], whole.pitch_deg[begin:end], whole.bank_deg[begin:end])
        for begin, end in zip([0, *cuts], [*cuts, len(whole)], strict=True)
    ]
    shuffled = data.draw(st.permutations(parts))
    assert Motion().joined(*shuffled) == whole
    # A part that is sent again, because its receipt was lost, changes nothing.
    assert whole.joined(data.draw(st.sampled_from(parts))) == whole


@settings(max_examples=40)
@given(rows, rows)
def test_of_two_readings_in_one_place_the_first_stays(
    before: list[tuple[int, float, float]], after: list[tuple[int, float, float]]
) -> None:
    one, other = motion_of(before), motion_of(after)
    joined = one.joined(other)
    assert {*zip(one.time_s, one.pitch_deg, one.bank_deg, strict=True)} <= {
        *zip(joined.time_s, joined.pitch_deg, joined.bank_deg, strict=True)
    }
    steps = [
        after - before for before, after in zip(joined.time_s, joined.time_s[1:], strict=False)
    ]
    assert all(step > 0.99 * TICK_S for step in steps)


def test_joined_motions_doubt_as_much_as_the_worse_of_them() -> None:
    both = Motion((0.0,), (0.0,), (0.0,), 0.02), Motion((1.0,), (0.0,), (0.0,), 0.05)
    assert both[0].joined(both[1]).doubt_s == 0.05
    assert Motion().joined() == Motion()
