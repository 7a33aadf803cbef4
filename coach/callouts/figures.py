"""Figures and abbreviations as a voice speaks them.

Headings are said digit by digit, altitudes in thousands and hundreds, and 135 degrees of a turn is
"one thirty five" (common practice, no source). What a script writes in figures or abbreviates is
spoken out too.
"""

from __future__ import annotations

import re
from dataclasses import replace

from coach.callouts.cuesheet import Phrase
from coach.words import three_figures

_ONES = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen "
    "sixteen seventeen eighteen nineteen"
).split()
_TENS = "- - twenty thirty forty fifty sixty seventy eighty ninety".split()


def say_number(value: int) -> str:
    """A whole number up to 99,999 in words, without "and"."""
    if value < 0:
        return f"minus {say_number(-value)}"
    if value < 20:
        return _ONES[value]
    if value < 100:
        return _TENS[value // 10] + (f" {_ONES[value % 10]}" if value % 10 else "")
    size, name = (1000, "thousand") if value >= 1000 else (100, "hundred")
    rest = f" {say_number(value % size)}" if value % size else ""
    return f"{say_number(value // size)} {name}{rest}"


def say_heading(heading_deg: float) -> Phrase:
    """A heading as three figures, north as 360."""
    figures = three_figures(heading_deg)
    return Phrase(figures, say_one_by_one(figures))


def say_turned(value: int) -> str:
    """A number without a unit, as a turn or a checkpoint's name: 135 is "one thirty five"."""
    hundreds, rest = divmod(value, 100)
    if value <= 100 or rest == 0:
        return say_number(value)
    return f"{say_number(hundreds)} {'zero ' if rest < 10 else ''}{say_number(rest)}"


def spoken_out(words: str) -> str:
    """Words as written, for the voice: figures in words, and no abbreviation of a unit.

    After "heading", "course", "runway" or "squawk", and with a leading zero, figures are said one
    by one. Ground speed is two words, which a voice does not divide as "grounds" and "peed".
    """
    words = re.sub(r"\b([Gg]round)speed\b", r"\1 speed", words)
    return _FIGURES.sub(_say_figures, _ABBREVIATION.sub(_say_unit, words))


_UNITS = {
    "ft/min": "feet a minute",
    "kt": "knots",
    "ft": "feet",
    "nm": "nautical miles",
    "lb": "pounds",
    "hp": "horsepower",
    "rpm": "r p m",
    "deg": "degrees",
    "s": "seconds",
    "°": "degrees",
    "%": "percent",
}
_ABBREVIATION = re.compile(
    r"(?<![A-Za-z])(?:ft/min|kt|ft|nm|lb|hp|rpm|deg|(?<=\d )s)(?![A-Za-z])|\s*[°%]"
)
_FIGURES = re.compile(
    r"(?P<course>\b(?:[Hh]eading|[Cc]ourse|[Rr]unway|[Ss]quawk) )?"
    r"(?P<minus>(?<!\w)-)?(?<![\w.,])(?P<whole>\d{1,3}(?:,\d{3})+|\d+)(?:\.(?P<part>\d+))?(?!\w)"
    r"(?P<counted> (?:knots|feet|pounds|horsepower|r p m)\b)?"
)


def _say_unit(found: re.Match[str]) -> str:
    unit = found[0].strip()
    return f" {_UNITS[unit]}" if unit in "°%" else _UNITS[unit]


def _say_figures(found: re.Match[str]) -> str:
    course, minus, part, counted = (
        found[one] or "" for one in ("course", "minus", "part", "counted")
    )
    figures = found["whole"].replace(",", "")
    if len(figures) > 5:
        return found[0]
    if course or (figures[0] == "0" and len(figures) > 1):
        said = say_one_by_one(figures)
    elif counted.endswith("r p m") and not part:
        said = _say_turns(int(figures))
    elif part or counted:
        said = say_number(int(figures))
    else:
        said = say_turned(int(figures))
    said += f" point {say_one_by_one(part)}" if part else ""
    return f"{course}{'minus ' if minus else ''}{said}{counted}"


def _say_turns(value: int) -> str:
    """Revolutions a minute, "twenty two hundred" or "twenty two fifty" (common practice)."""
    hundreds, rest = divmod(value, 100)
    if value < 1000 or hundreds % 10 == 0:
        return say_number(value)
    return f"{say_number(hundreds)} hundred" if rest == 0 else say_turned(value)


def say_one_by_one(figures: str) -> str:
    """Figures digit by digit."""
    return " ".join(_ONES[int(figure)] for figure in figures)


def say_niner(phrase: Phrase) -> Phrase:
    """A phrase in which the digit nine is "niner", which no one mistakes for "five".

    Source: ICAO Annex 10 volume II, 5.2.1.4; FAA AIM 4-2-8 (from memory).
    """
    spoken, lands = (re.sub(r"\b([Nn]ine)\b", r"\1r", one) for one in (phrase.spoken, phrase.lands))
    return replace(phrase, spoken=spoken, lands=lands)
