"""Numbers and values as a pilot reads them in a caption, and as a voice speaks them.

Every value is a `Phrase`: its text for the eyes, its words for the voice. Headings are said digit
by digit, altitudes in thousands and hundreds, and 135 degrees of a turn is "one thirty five"
(common practice, no source). What a script writes in figures or abbreviates is spoken out too.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from string import Formatter

from coach.callouts.cuesheet import Phrase
from coach.flight.asked import true
from coach.flight.flight import Flight
from coach.flight.moment import Moment
from coach.flight.speeds import maneuvering_speed
from coach.script.asked import ASKED, AskedNumber
from coach.script.quantities import FOOT, KNOT
from coach.words import side_of, three_figures

_ONES = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen "
    "sixteen seventeen eighteen nineteen"
).split()
_TENS = "- - twenty thirty forty fifty sixty seventy eighty ninety".split()

RUDDER_SIZES = (
    (0.08, "rudder neutral"),
    (0.25, "a touch of {}"),
    (0.55, "{}"),
    (math.inf, "more {}"),
)
"""What a rudder index is called, up to each size (a model's guess, like the index itself)."""


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
    return Phrase(figures, _one_by_one(figures))


def say_turned(value: int) -> str:
    """A number without a unit, as a turn or a checkpoint's name: 135 is "one thirty five"."""
    hundreds, rest = divmod(value, 100)
    if value <= 100 or rest == 0:
        return say_number(value)
    return f"{say_number(hundreds)} {'zero ' if rest < 10 else ''}{say_number(rest)}"


def spoken_out(words: str) -> str:
    """Words as written, for the voice: figures in words, and no abbreviation of a unit.

    After "heading", "course" or "runway", and with a leading zero, figures are said one by one.
    """
    return _FIGURES.sub(_say_figures, _ABBREVIATION.sub(_say_unit, words))


_UNITS = {
    "ft/min": "feet a minute",
    "kt": "knots",
    "ft": "feet",
    "nm": "nautical miles",
    "lb": "pounds",
    "hp": "horsepower",
    "deg": "degrees",
    "s": "seconds",
    "°": "degrees",
    "%": "percent",
}
_ABBREVIATION = re.compile(
    r"(?<![A-Za-z])(?:ft/min|kt|ft|nm|lb|hp|deg|(?<=\d )s)(?![A-Za-z])|\s*[°%]"
)
_FIGURES = re.compile(
    r"(?P<course>\b(?:[Hh]eading|[Cc]ourse|[Rr]unway) )?"
    r"(?P<minus>(?<!\w)-)?(?<![\w.,])(?P<whole>\d{1,3}(?:,\d{3})+|\d+)(?:\.(?P<part>\d+))?(?!\w)"
    r"(?P<counted> (?:knots|feet|pounds|horsepower)\b)?"
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
        said = _one_by_one(figures)
    elif part or counted:
        said = say_number(int(figures))
    else:
        said = say_turned(int(figures))
    said += f" point {_one_by_one(part)}" if part else ""
    return f"{course}{'minus ' if minus else ''}{said}{counted}"


def _one_by_one(figures: str) -> str:
    return " ".join(_ONES[int(figure)] for figure in figures)


def say_niner(phrase: Phrase) -> Phrase:
    """A phrase in which the digit nine is "niner", which no one mistakes for "five".

    Source: ICAO Annex 10 volume II, 5.2.1.4; FAA AIM 4-2-8 (from memory).
    """
    spoken, lands = (re.sub(r"\b([Nn]ine)\b", r"\1r", one) for one in (phrase.spoken, phrase.lands))
    return replace(phrase, spoken=spoken, lands=lands)


def say_rudder(index: float) -> str:
    """A rudder index as words."""
    side = "right rudder" if index > 0.0 else "left rudder"
    return next(words.format(side) for size, words in RUDDER_SIZES if abs(index) < size)


def _quantity(value: float, unit: str, spoken: str) -> Phrase:
    whole = round(value)
    return Phrase(f"{whole:,} {unit}", f"{say_number(whole)} {spoken}")


def _asked(number: AskedNumber, value: float) -> Phrase:
    if number.is_course:
        return say_heading(value)
    whole = number.step * round(value / number.step)
    if number.zero and not whole:
        return Phrase("level", "level")
    unit, where = f" {number.unit}" if number.unit_tells else "", ""
    if number.sides == "told":
        whole, where = abs(whole), " above level" if whole > 0 else " below level"
    return Phrase(f"{whole:,}{number.sign}{where}", f"{say_number(whole)}{unit}{where}")


def _same(words: str) -> Phrase:
    return Phrase(words, spoken_out(words))


def values(flight: Flight, moment: Moment) -> dict[str, Phrase]:
    """Everything a phrasing may name, as it is at one moment of a flight."""
    side = side_of(flight.sides[moment.loop - 1])
    entry_altitude = 10 * round(flight.conditions.altitude / FOOT / 10)
    power = round(100 * flight.power)
    maneuvering = maneuvering_speed(flight.airplane, flight.conditions.mass)
    return {
        "title": _same(flight.maneuver.title),
        "name": _same(moment.name),
        "loop": Phrase(str(moment.loop), say_number(moment.loop)),
        "side": _same(side),
        "other_side": _same("left" if side == "right" else "right"),
        **{name: _asked(number, true(name, moment)) for name, number in ASKED.items()},
        "turned": Phrase(f"{moment.turned_deg:.0f}°", say_number(round(moment.turned_deg))),
        "rudder": _same(say_rudder(moment.rudder)),
        "reference": _same(flight.reference_ahead(moment.time_s) or "outside"),
        "entry_speed": _quantity(flight.entry_speed_kt, "kt", "knots"),
        "entry_altitude": _quantity(entry_altitude, "ft", "feet"),
        "maneuvering_speed": _quantity(maneuvering / KNOT, "kt", "knots"),
        **_on_the_way(flight, moment.time_s),
        "load": Phrase(f"{moment.load_factor:.1f} g", _decimal(moment.load_factor) + " g"),
        "wind": say_wind(flight),
        "power": Phrase(f"{power} %", f"{say_number(power)} percent"),
    }


def _on_the_way(flight: Flight, time_s: float) -> dict[str, Phrase]:
    """What a checkpoint does not hold: height, ground speed, climb or descent."""
    row = {name: float(column[0]) for name, column in flight.at([time_s]).items()}
    height, climb = 10 * round(row["height_ft"] / 10), 50 * round(row["climb_fpm"] / 50)
    way = "climbing" if climb > 0 else "descending"
    rate = Phrase("level", "level")
    if climb:
        rate = Phrase(
            f"{way} {abs(climb):,} ft/min", f"{way} {say_number(abs(climb))} feet a minute"
        )
    return {
        "height": _quantity(height, "ft", "feet"),
        "groundspeed": _quantity(row["groundspeed_kt"], "kt", "knots"),
        "climb": rate,
    }


def say_wind(flight: Flight) -> Phrase:
    """Where the wind comes from, and how much."""
    day = flight.conditions
    knots = round(day.wind_speed / KNOT)
    if knots == 0:
        return _same("calm")
    origin = say_heading(math.degrees(day.wind_from))
    return Phrase(f"{origin.text} at {knots} kt", f"{origin.spoken} at {say_number(knots)}")


def _decimal(value: float) -> str:
    whole, tenth = divmod(round(10 * value), 10)
    return f"{say_number(whole)} point {say_number(tenth)}"


def render(phrasing: str, known: dict[str, Phrase], *, landing: bool = False) -> Phrase:
    """A phrasing with its values filled in, each sentence beginning with a capital letter.

    Args:
        phrasing: as a script writes it, with the names of values in braces.
        known: from `values`.
        landing: whether the name of its checkpoint must be heard on the phrase's moment.
    """
    text, spoken, name = "", "", slice(0)
    for literal, field, _, _ in Formatter().parse(phrasing):
        text += literal
        spoken += spoken_out(literal)
        if field is not None:
            begin = len(spoken)
            text += known[field].text
            spoken += known[field].spoken
            if landing and field == "name" and not name.stop:
                name = slice(begin, len(spoken))
    spoken = _capitals(spoken)
    return Phrase(_capitals(text), spoken, spoken[name])


def _capitals(sentence: str) -> str:
    return re.sub(r"(^|[.!?] )([a-z])", lambda found: found[1] + found[2].upper(), sentence)
