"""Promises of how the coach writes counts, lists, headings and times."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from coach import words


def test_one_is_no_plural_and_thousands_can_be_read() -> None:
    counts = [words.counted(number, "run") for number in (0, 1, 2, 1200)]
    assert counts == ["0 runs", "1 run", "2 runs", "1,200 runs"]


def test_a_list_has_one_and_before_its_last() -> None:
    assert words.listed([]) == ""
    assert words.listed(["one"]) == "one"
    assert words.listed(["one", "two"]) == "one and two"
    assert words.listed(["one", "two", "three"]) == "one, two and three"
    assert words.numbered("loop", [2]) == "loop 2"
    assert words.numbered("loop", [1, 3]) == "loops 1 and 3"


@pytest.mark.parametrize(
    ("degrees", "written"),
    [(0.0, "360"), (359.6, "360"), (0.4, "360"), (5.0, "005"), (45.2, "045"), (-90.0, "270")],
)
def test_a_heading_has_three_figures_and_north_is_360(degrees: float, written: str) -> None:
    assert words.three_figures(degrees) == written


def test_a_minute_has_sixty_seconds_however_it_is_rounded() -> None:
    assert words.clock(59.4) == "0:59"
    assert words.clock(59.5) == "1:00"
    assert words.clock(59.94, tenths=True) == "0:59.9"
    assert words.clock(59.96, tenths=True) == "1:00.0"
    assert words.timestamp(59_999) == "00:00:59.999"
    assert words.timestamp(3_725_020) == "01:02:05.020"


def test_a_day_is_told_from_today() -> None:
    today = date(2026, 3, 1)
    near = [words.days_from(today + timedelta(days), today) for days in (-3, -1, 0, 1, 3)]
    assert near == ["3 days ago", "yesterday", "today", "tomorrow", "in 3 days"]
