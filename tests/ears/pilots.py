"""How pilots say numbers and the names of checkpoints: collected ways, each with its source.

The standards were not at hand when this was written: every row is from memory. "AIM" is the FAA's
Aeronautical Information Manual, "P/CG" its Pilot/Controller Glossary, "7110.65" its order on air
traffic control, "Annex 10" ICAO's Annex 10 volume II with Doc 9432, "CAP 413" the British manual of
radiotelephony, "AFH" the Airplane Flying Handbook, FAA-H-8083-3. What no standard has is common
practice.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from coach.ears.grammar import Grammar, answer, callout
from coach.ears.trial import STILL
from coach.script.asked import ASKED, Asked

PRACTICE = "common practice, no source"

CHECKPOINTS: Mapping[str, tuple[str, ...]] = {
    "lazy eight": ("45", "90", "135", "180"),
    "pattern": ("abeam", "base turn", "base", "final", "flare", "touchdown"),
    "course": ("turn base", "turn upwind", "halfway upwind", "turn crosswind", "turn downwind"),
    "recovery": ("nose down", "wings level"),
    "climb": ("level-off", "level"),
    "turn": ("90", "rolled out"),
    "going around": ("going around", "clear"),
}
"""The flights in which names are said."""

_TABLE = """
# AIM 4-2-11 (from memory)
speed 102: one zero two knots / speed one zero two
speed 99: niner niner knots / nine nine knots
# Annex 10, 5.2.1.4 (from memory)
speed 70: seven zero knots / speed seven zero knots
# CAP 413 (from memory)
speed 100: one zero zero knots / one hundred knots
# P/CG (from memory)
speed 63: airspeed six three / indicated airspeed sixty three
# common practice, no source
speed 102: one hundred and two / a hundred and two / a hundred two / one hundred two / one oh two
  / one zero two / one hundred and two knots / a hundred and two knots indicated / speed is one oh
  two
speed 110: one ten / one hundred ten / a hundred and ten / one one zero
speed 100: a hundred / one hundred / a hundred knots
speed 63: airspeed sixty three / airspeed is sixty three / sixty three knots / sixty three
  indicated / sixty three knots indicated / indicating sixty three / speed of sixty three / sixty
  three on the airspeed / six three / sixty three
speed 122 = speed 102: one hundred and two / a hundred and two knots / one oh two
speed 102 = speed 122: one twenty two / one two two
# AIM 4-2-9 (from memory)
altitude 4500: four thousand five hundred / four thousand five hundred feet
altitude 10500: one zero thousand five hundred
altitude 12000: one two thousand / one two thousand feet
# AIM 4-2-8 (from memory)
altitude 500: five hundred / five hundred feet
altitude 9900: niner thousand niner hundred
# 7110.65 2-4-17 (from memory)
altitude 10500: ten thousand five hundred feet
# Annex 10, 5.2.1.4 (from memory)
altitude 3400: three thousand four hundred / altitude three thousand four hundred
# CAP 413 (from memory)
altitude 2500: altitude two thousand five hundred feet
# common practice, no source
altitude 4500: forty five hundred feet / forty five hundred / four thousand five / four point five
  / four and a half thousand / four thousand and five hundred feet / four five zero zero /
  altitude forty five hundred / altitude is four thousand five hundred / at forty five hundred /
  passing forty five hundred feet
altitude 3500: three thousand five / three point five / thirty five hundred / three and a half
  thousand feet
altitude 1000: a thousand feet / one thousand / level at one thousand
altitude 1500: fifteen hundred feet / one thousand five hundred / a thousand five hundred / one
  thousand five
altitude 4670: forty six seventy / four thousand six hundred seventy / four thousand six hundred
  and seventy feet / four thousand six seventy / four six seven zero
altitude 3500 = altitude 3000: three thousand
altitude 3000 = altitude 3500: thirty five hundred
# AIM 4-2-10 (from memory)
heading 100: heading one zero zero / one zero zero
heading 50: zero five zero / heading zero five zero
# Annex 10, 5.2.1.4 (from memory)
heading 80: heading zero eight zero / zero eight zero
# AIM 4-2-8 (from memory)
heading 90: zero niner zero / heading zero niner zero
# CAP 413 (from memory)
heading 270: heading two seven zero degrees
heading 360: heading three six zero degrees / three six zero
# common practice, no source
heading 270: two seventy / heading two seventy / west / heading west
heading 90: oh nine oh / heading ninety / heading oh niner oh / east
heading 360: north / heading north / three sixty
heading 180: one eighty / heading of one eight zero / due south
heading 330: heading is three thirty / on heading three three zero
heading 270 = heading 240: two four zero
# AIM 4-2-8 (from memory)
bank 30: three zero / bank three zero / three zero degrees
# AFH (from memory)
bank 15: fifteen degrees of bank / fifteen degree bank / bank angle fifteen degrees / angle of
  bank fifteen / bank fifteen degrees
bank 0: wings level / wings are level / bank zero / zero bank
# common practice, no source
bank 30: thirty right / thirty left / right thirty / left bank thirty / bank right thirty / thirty
  degrees right / thirty degrees right bank / thirty to the right / bank angle thirty / bank angle
  is thirty / bank of thirty / thirty of bank / thirty bank / thirty degrees / banked thirty /
  thirty
bank 0: level wings / no bank
bank 30 = bank 45: forty five right
# AIM 4-2-8 (from memory)
pitch 17: one seven / pitch one seven degrees
# AFH (from memory)
pitch 17: pitch attitude seventeen degrees / seventeen degrees nose up / seventeen degrees nose
  high / seventeen degrees above the horizon
pitch -10: ten degrees nose low / ten degrees below the horizon
pitch 0: level pitch attitude / nose on the horizon / level / nose level
# common practice, no source
pitch 17: seventeen up / nose up seventeen / seventeen nose up / up seventeen / pitch up seventeen
  / pitch seventeen up / plus seventeen / seventeen degrees of pitch / seventeen above / seventeen
  degrees up / pitch is seventeen / positive seventeen / seventeen degrees pitch up
pitch -10: ten below / ten down / nose down ten / nose low ten / minus ten / negative ten / pitch
  minus ten / ten degrees nose down / pitch down ten degrees / ten below the horizon
pitch 0: on the horizon / zero pitch / pitch zero / level nose
pitch -10 = pitch 10: ten up / nose up ten
speed 63, bank 30: sixty three and thirty right / sixty three thirty / thirty right and sixty
  three / sixty three knots and thirty degrees / sixty three knots with thirty degrees of bank /
  bank thirty at sixty three / thirty degrees and sixty three knots / thirty at sixty three knots
  / thirty and sixty three / airspeed sixty three bank angle thirty / three zero right six three
  knots / uh sixty three knots and uh thirty right / about sixty three and about thirty / speed
  should be sixty three bank should be thirty / sixty three knots in a thirty degree bank / it's
  sixty three knots bank thirty / okay sixty three and um bank thirty
speed 102, bank 30: one hundred and two and thirty / one oh two thirty right
speed 100, bank 30: a hundred and thirty right / one hundred and thirty
pitch 17, bank 15: seventeen up fifteen right / seventeen up and fifteen degrees of bank / bank
  fifteen nose up seventeen / pitch seventeen bank fifteen / seventeen and fifteen / fifteen right
  and seventeen nose up
altitude 4500, speed 95: forty five hundred feet ninety five knots / ninety five at forty five
  hundred / four thousand five hundred and ninety five knots / ninety five knots at four thousand
  five hundred feet
heading 180, altitude 3500: heading one eight zero at thirty five hundred / thirty five hundred
  feet heading one eighty / one eighty and three thousand five hundred
speed 63, bank 30 = speed 63: sixty three
speed 63, bank 30 = bank 30: thirty / thirty right
speed 63, bank 30 = bank 50: fifty right
speed 63, bank 30 = speed 63, bank 20: sixty three and twenty / twenty and sixty three
speed 63, bank 30 = speed 80, bank 30: eighty and thirty
# Annex 10, 5.2.1.5 (from memory)
speed 63: sixty correction sixty three / speed sixty correction sixty three knots / speed sixty
  correction speed sixty three
# P/CG (from memory)
altitude 3500: three thousand correction three thousand five hundred
# Annex 10, 5.2.1.5 (from memory)
heading 180: one niner zero correction one eight zero
speed 63: sixty three knots i say again sixty three knots
# common practice, no source
speed 63: sixty no sixty three / seventy uh no sixty three / eighty sorry sixty three
  / seventy i mean sixty three knots / seventy make that sixty three / sixty three sixty three
  knots / sixty three sixty three / speed speed sixty three / uh sixty three / um about sixty
  three
speed 63, bank 30: sixty three bank twenty no bank thirty / eighty no sixty three knots and thirty
  right / bank thirty thirty right and sixty three
pitch -10: ten up no ten down / ten up correction ten below
# Annex 10, 5.2.1.5 (from memory)
speed 63 = speed 80: sixty three correction eighty
# AFH (from memory)
name 90 in lazy eight: ninety degree point / the ninety degree point
name 135 in lazy eight: one thirty five degree point / one three five point
# AIM 4-2-8 (from memory)
name 90 in lazy eight: niner zero / nine zero
name 180 in lazy eight: one eight zero / one eight zero degrees
# common practice, no source
name 90 in lazy eight: ninety / ninety degrees / ninety point / at the ninety / at ninety / at the
  ninety degree point / passing ninety / coming up on ninety / and ninety
name 135 in lazy eight: one thirty five / one three five / one hundred thirty five / one hundred
  and thirty five degrees / a hundred and thirty five / at the one thirty five
name 45 in lazy eight: forty five / the forty five / four five / forty five point
name base turn in pattern: base turn / turning base / base turn now
name abeam in pattern: abeam / abeam now / we're abeam
name touchdown in pattern: touchdown / and touchdown
name final in pattern: final / on final
name halfway upwind in course: halfway upwind / half way upwind
name turn crosswind in course: turn crosswind / turning crosswind
name wings level in recovery: wings level / wings are level
name level-off in climb: level off / leveling off
name rolled out in turn: rolled out / roll out / rolling out
name going around in going around: going around / go around
name 90 in lazy eight speed 63, bank 30: ninety sixty three knots bank thirty / at the ninety
  sixty three and thirty right / sixty three knots and thirty right at the ninety / ninety point
  sixty three knots and thirty degrees of bank / ninety uh sixty three thirty
name 180 in lazy eight altitude 4500, speed 95: one eighty forty five hundred feet ninety five
  knots
"""
"""What the place asks for with the right numbers, what is meant where that is something else, and
the ways of saying it; or a checkpoint, its flight, and the numbers that are said with its name."""

_AWAY = [replace(STILL, ias_kt=speed) for speed in (50.0, 110.0)]
"""How slow and how fast it is elsewhere in the flight."""
_ROW = re.compile(
    r"(?:name (?P<name>.+?) in (?P<flight>[a-z ]+?)(?=:| speed| altitude) ?)?"
    r"(?P<right>[^=:]*)(?: = (?P<means>[^:]+))?: (?P<ways>.+)"
)


@dataclass(frozen=True)
class Way:
    """One way of saying something.

    Attributes:
        words: as they are spoken, in lower case and without stops.
        means: the numbers; bank without a side, pitch above level positive.
        right: the numbers that the place asks for, in its order, with what is right there.
        source: who has it, or `PRACTICE`.
        name: the checkpoint that the words name, "" for none; it is the one that is due.
        names: the checkpoints of the flight, where names may be said at all.
    """

    words: str
    means: Mapping[Asked, float]
    right: Mapping[Asked, float]
    source: str
    name: str = ""
    names: tuple[str, ...] = ()

    @property
    def grammar(self) -> Grammar:
        """What is listened for at that place."""
        at: dict[str, Any] = {ASKED[one].field: value for one, value in self.right.items()}
        here = replace(STILL, name=self.name, asks=tuple(self.right), **at)
        if not self.names:
            return answer((here, *_AWAY), 0)
        return callout(
            (here, *(replace(one, name=name) for one in _AWAY for name in self.names)), 0
        )


def _values(text: str) -> Mapping[Asked, float]:
    parts = (part.split() for part in text.split(", ") if part)
    return {one: float(value) for one, value in parts}


def _ways() -> Iterator[Way]:
    source = ""
    for line in _TABLE.replace("\n  ", " ").strip().splitlines():
        if line.startswith("# "):
            source = line[2:]
            continue
        row = _ROW.fullmatch(line)
        assert row is not None, line
        right = _values(row["right"])
        means = _values(row["means"]) if row["means"] else right
        for words in row["ways"].split(" / "):
            if row["name"]:
                # Names alone are said where a speed and a bank are asked for.
                asked = right or {"speed": 63.0, "bank": 30.0}
                yield Way(words, means, asked, source, row["name"], CHECKPOINTS[row["flight"]])
            else:
                yield Way(words, means, right, source)


PILOTS: tuple[Way, ...] = tuple(_ways())
"""Every collected way."""
