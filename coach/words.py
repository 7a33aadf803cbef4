"""How the coach writes what it says everywhere: counts, lists, headings, times, and its caution."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Literal

CAUTION = (
    "This trains timing and words on the ground; it is no flight instruction, and its numbers come "
    "from a simple model. The airplane's own handbook, local rules and a licensed instructor come "
    "first."
)
"""The one line that every brief, debrief, report and page carries."""


def titled(maneuver: str, airplane: str) -> str:
    """What is flown, by their titles, as every brief, debrief and picture is headed."""
    return f"{maneuver} — {airplane}"


def counted(number: int, noun: str) -> str:
    """``"1 knot"``, ``"2 knots"``, ``"1,200 runs"``."""
    return f"{number:,} {noun}{'' if number == 1 else 's'}"


def listed(words: Sequence[str], joint: str = "and") -> str:
    """``"one, two and three"``."""
    return f" {joint} ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def numbered(noun: str, numbers: Sequence[int]) -> str:
    """``"loop 2"``, ``"loops 1 and 3"``."""
    return f"{noun}{'' if len(numbers) == 1 else 's'} {listed([str(one) for one in numbers])}"


def three_figures(degrees: float) -> str:
    """``"045"``: so a heading is written, north as 360 (common practice, no source)."""
    return f"{round(degrees) % 360 or 360:03d}"


def side_of(turn: float) -> Literal["right", "left"]:
    """``"right"`` for a turn, its sign or a bank above zero, else ``"left"``."""
    return "right" if turn > 0 else "left"


def clock(seconds: float, *, tenths: bool = False) -> str:
    """``"1:05"``, or ``"1:05.3"``."""
    if tenths:
        whole, tenth = divmod(round(10.0 * seconds), 10)
        return f"{clock(whole)}.{tenth}"
    minutes, left = divmod(int(seconds + 0.5), 60)
    return f"{minutes}:{left:02d}"


def timestamp(milliseconds: int) -> str:
    """``"00:01:05.300"``, as captions and chapters in files have it."""
    minutes, thousandths = divmod(milliseconds, 60_000)
    return f"{minutes // 60:02}:{minutes % 60:02}:{thousandths // 1000:02}.{thousandths % 1000:03}"


def day_and_minute(at: datetime) -> str:
    """``"2026-03-01 09:05"``."""
    return f"{at:%Y-%m-%d %H:%M}"


def days_from(day: date, today: date) -> str:
    """``"today"``, ``"yesterday"``, ``"in 3 days"``, ``"3 days ago"``."""
    days = (day - today).days
    near = {-1: "yesterday", 0: "today", 1: "tomorrow"}
    return near.get(days) or (f"in {days} days" if days > 0 else f"{-days} days ago")
