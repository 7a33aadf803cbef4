"""Warm-ups name maneuvers that are there, and a shuffled one loses none."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.problems import Problem
from coach.script import catalog, warmup

TEXT = """warmup: mine
title: Mine
pause: 30 s
maneuvers:
  - {maneuver: chandelle, direction: left, pace: 0.8}
  - {maneuver: lazy-eight, loops: 2}
"""


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    path = tmp_path / "mine.yaml"
    path.write_text(TEXT, encoding="utf-8")
    return path


@pytest.mark.parametrize("name", ["commercial-morning", "private-morning", "five-minutes"])
def test_the_shipped_warmups_are_read_and_named_after_their_files(name: str) -> None:
    assert name in catalog.names("warmups")
    found = warmup.load(name)
    assert found.warmup == name
    assert len(found.maneuvers) >= 4


def test_a_warmup_is_read_with_what_it_says_and_the_usual_for_the_rest(mine: Path) -> None:
    found = warmup.load(str(mine))
    assert (found.title, found.order, found.pause) == ("Mine", "fixed", 30.0)
    first, second = found.maneuvers
    assert (first.maneuver, first.loops, first.direction, first.pace) == (
        *("chandelle", None, "left", 0.8),
    )
    assert (second.loops, second.direction, second.pace) == (2, None, 1.0)


@pytest.mark.parametrize(
    ("old", "new", "line", "sentence"),
    [
        ("lazy-eight", "lazy-ate", 6, "no maneuver 'lazy-ate'; did you mean lazy-eight?"),
        ("loops: 2", "loops: 17", 6, "loops: found 17, expected at most 16."),
        ("direction: left", "direction: lift", 5, "direction: found 'lift'; did you mean left?"),
        ("pace: 0.8", "pace: 0.1", 5, "pace: found 0.1, expected at least 0.5."),
        ("pause: 30 s", "pause: 30", 3, "found 30 without a unit, expected a time in s or min"),
        ("pause: 30 s", "pause: 30 min", 3, "found 30 min, expected 0 s to 10 min"),
        ("title: Mine", "title: Mine\norder: random", 3, "found 'random'"),
        ("loops: 2", "loop: 2", 6, "unknown key 'loop'; did you mean loops?"),
    ],
)
def test_a_fault_is_told_with_its_line(
    mine: Path, old: str, new: str, line: int, sentence: str
) -> None:
    mine.write_text(TEXT.replace(old, new), encoding="utf-8")
    with pytest.raises(Problem) as problem:
        warmup.load(str(mine))
    assert str(problem.value).startswith(f"{mine}, line {line}: ")
    assert sentence in str(problem.value)


def test_a_warmup_without_maneuvers_and_an_unknown_one_are_told(mine: Path) -> None:
    mine.write_text("warmup: mine\ntitle: Mine\nmaneuvers: []\n", encoding="utf-8")
    with pytest.raises(Problem, match="line 3: maneuvers: "):
        warmup.load(str(mine))
    with pytest.raises(Problem, match=r"no warmup 'five-minute'; did you mean five-minutes\?"):
        warmup.load("five-minute")


@given(st.integers())
def test_shuffled_the_same_maneuvers_come_in_an_order_the_seed_decides(seed: int) -> None:
    found = warmup.load("commercial-morning")
    shuffled = found.shuffled(seed)
    assert shuffled == found.shuffled(seed)
    assert sorted(map(str, shuffled.maneuvers)) == sorted(map(str, found.maneuvers))


def test_seeds_give_different_orders() -> None:
    found = warmup.load("commercial-morning")
    assert len({str(found.shuffled(seed)) for seed in range(20)}) > 15
