"""Words: how they are taken from outside, and how the coach writes what it says everywhere.

Whatever comes in, from a script, an export, a phone or the command line, comes through `plain`, and
what somebody is called through `name`. What is read back was clean when it came in; should it not
be, it is `shown` as far as it can be.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from datetime import date, datetime
from typing import Literal

from coach.problems import Problem

FIRST = "The airplane's own handbook, local rules and a licensed instructor come first."
"""What is left of the caution where there is no more room than a line."""

CAUTION = (
    "This trains timing, words and hands on the ground; it is no flight instruction, and its "
    f"numbers come from a simple model. {FIRST}"
)
"""The one line that every brief, debrief, report and page carries."""

LONGEST_NAME = 60
"""Letters of what somebody is called."""

_UNSEEN = re.compile(
    "[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180d\u180f\u2800\u3164\ufe00-\ufe0f\uffa0\ufffd"
    "\U000e0100-\U000e01ef]"
)
"""Letters and marks that show nothing: those of Unicode 15's Default_Ignorable_Code_Point
(DerivedCoreProperties.txt) that Python takes for printable, the Braille pattern without a dot, and
what stands in the place of bytes that are no text."""


def plain(text: str) -> str:
    """A text from outside as it is kept: composed (NFC), on one line, without what shows nothing.

    Raises:
        ValueError: it holds a control character that is no white space, or half a character; the
            sentence names it.
    """
    for letter in text:
        if unicodedata.category(letter) in ("Cc", "Cs") and not letter.isspace():
            raise ValueError(f"found the character U+{ord(letter):04X}, which cannot be shown")
    spaced = "".join(" " if letter.isspace() else letter for letter in text)
    seen = "".join(filter(str.isprintable, unicodedata.normalize("NFC", spaced)))
    return " ".join(_UNSEEN.sub("", seen).split())


def name(given: str, what: str, longest: int = LONGEST_NAME) -> str:
    """What a person or a class is called, as it is kept.

    Args:
        given: as it was written.
        what: whose name it is, such as ``"Your name"``.
        longest: the most letters of it.

    Raises:
        Problem: nothing of it can be seen, it is too long, or cannot be shown.
    """
    try:
        tidied = plain(given)
    except ValueError as error:
        raise Problem(f"{what} cannot be one: {error}.") from None
    if not tidied:
        raise Problem(f"{what} is empty: give a first name or a nickname.")
    if len(tidied) > longest:
        raise Problem(f"{what} is too long: {longest} letters at most.")
    return tidied


def shown(text: str) -> str:
    """A text that was read back, as it can be shown on one line: the rest of it is replaced."""
    return "".join(
        letter if letter.isprintable() else " " if letter.isspace() else "\N{REPLACEMENT CHARACTER}"
        for letter in text
    )


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
