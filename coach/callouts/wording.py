"""Values as a pilot reads them in a caption, and as a voice speaks them; a phrasing filled in.

Every value is a `Phrase`: its text for the eyes, its words for the voice.
"""

from __future__ import annotations

import math
import re
from string import Formatter

from coach.callouts.controls import say_aileron, say_elevator, say_rudder
from coach.callouts.cuesheet import Phrase
from coach.callouts.figures import say_heading, say_number, spoken_out
from coach.callouts.own import own
from coach.flight.asked import true
from coach.flight.flight import Flight
from coach.flight.moment import Moment
from coach.flight.speeds import best_glide_speed, maneuvering_speed
from coach.script.asked import ASKED, AskedNumber
from coach.script.quantities import FOOT, KNOT
from coach.words import side_of


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
    maneuvering = maneuvering_speed(flight.airplane, flight.conditions.mass)
    glide = best_glide_speed(flight.airplane, flight.conditions.mass)
    return {
        "title": _same(flight.maneuver.title),
        "name": _same(moment.name),
        "loop": Phrase(str(moment.loop), say_number(moment.loop)),
        "side": _same(side),
        "other_side": _same("left" if side == "right" else "right"),
        **{name: _asked(number, true(name, moment)) for name, number in ASKED.items()},
        "turned": Phrase(f"{moment.turned_deg:.0f}°", say_number(round(moment.turned_deg))),
        "rudder": _same(say_rudder(moment.rudder)),
        "elevator": _same(say_elevator(moment)),
        "aileron": _same(say_aileron(moment)),
        "next": _same(_next(flight, moment.loop)),
        "reference": _same(flight.reference_ahead(moment.time_s) or "outside"),
        "entry_speed": _quantity(flight.entry_speed_kt, "kt", "knots"),
        "entry_altitude": _quantity(entry_altitude, "ft", "feet"),
        "maneuvering_speed": _quantity(maneuvering / KNOT, "kt", "knots"),
        "best_glide": _quantity(glide / KNOT, "kt", "knots"),
        **_on_the_way(flight, moment.time_s),
        "load": Phrase(f"{moment.load_factor:.1f} g", _decimal(moment.load_factor) + " g"),
        "wind": say_wind(flight),
        **{name: _same(words) for name, words in own(flight.airplane).items()},
    }


def _next(flight: Flight, loop: int) -> str:
    """Which way the next loop goes; nothing in the last one."""
    if loop == len(flight.sides):
        return ""
    again = flight.sides[loop] == flight.sides[loop - 1]
    return f"{'again' if again else 'then'} {side_of(flight.sides[loop])}"


def _on_the_way(flight: Flight, time_s: float) -> dict[str, Phrase]:
    """What a checkpoint does not hold: height, ground speed, climb or descent, and power.

    Power is what the pilot sets it by: revolutions with a propeller of fixed pitch.
    """
    row = {name: float(column[0]) for name, column in flight.at([time_s]).items()}
    height, climb = 10 * round(row["height_ft"] / 10), 50 * round(row["climb_fpm"] / 50)
    way = "climbing" if climb > 0 else "descending"
    rate = Phrase("level", "level")
    if climb:
        rate = Phrase(
            f"{way} {abs(climb):,} ft/min", f"{way} {say_number(abs(climb))} feet a minute"
        )
    power, rpm = f"{row['power_percent']:.0f} %", row["rpm"]
    if not math.isnan(rpm):
        power = f"{10 * round(rpm / 10):,} rpm"
    return {
        "power": _same("idle" if row["power_percent"] < 0.5 else power),
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

    Returns:
        The phrase; its text is "" where all of it names what the airplane has not got.
    """
    text, spoken, name = "", "", slice(0, 0)
    for literal, field, _, _ in Formatter().parse(_said(phrasing, known)):
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


def _said(phrasing: str, known: dict[str, Phrase]) -> str:
    """A phrasing without the parts between its stops that name what is "" for this airplane.

    Of a part that names something else as well, such as its checkpoint, only that is left out.
    """
    parts = [(part[1], part[2]) for part in _PARTS.finditer(phrasing)]
    kept: list[tuple[str, str]] = []
    for part, stop in parts:
        fields = [field for _, field, _, _ in Formatter().parse(part) if field]
        missing = [field for field in fields if not known[field].text]
        if len(missing) < max(1, len(fields)):
            for field in missing:
                part = re.sub(rf"\s*\{{{field}\}}", "", part)
            kept.append((part, stop))
        elif kept and stop.strip() not in _WITHIN:  # its sentence ends with the part before
            before, within = kept[-1]
            kept[-1] = (before, stop if within.strip() in _WITHIN else within)
    return phrasing if kept == parts else "".join(part + stop for part, stop in kept).strip()


_PARTS = re.compile(r"((?:\{[^}]*\}|[^{,;:.!?]|(?<=\d)[,.](?=\d)|\{\{)+)([,;:.!?]*\s*)")
_WITHIN = (",", ";", ":")
"""Stops within a sentence."""


def _capitals(sentence: str) -> str:
    return re.sub(r"(^|[.!?] )([a-z])", lambda found: found[1] + found[2].upper(), sentence)
