"""What a maneuver is judged by: against the certification standards, for each checkride."""

from functools import cache

import pytest

from coach.problems import Problem
from coach.script import catalog
from coach.script.catalog import maneuver, syllabus
from coach.script.faults import faults
from coach.script.maneuver import Maneuver
from coach.script.quantities import DEGREE, FOOT, KNOT
from coach.script.reading import parse
from coach.script.standards import CHECKRIDES, Checkride, asked_at, not_asked
from coach.shelf import shipped

SCRIPTS = sorted(path.stem for path in shipped("scripts").glob("maneuvers/*.yaml"))

SOURCES = {"private": "FAA-S-ACS-6", "commercial": "FAA-S-ACS-7", "instrument": "FAA-S-ACS-8"}

# From how far below to how far above, as read in copies of the standards' element tables:
# FAA-S-ACS-7 (commercial) and FAA-S-ACS-6 (private).
READ = [
    ("steep-turn-50", "commercial", "altitude", -100, 100, FOOT),  # CA.V.A.S5
    ("steep-turn-50", "commercial", "airspeed", -10, 10, KNOT),
    ("steep-turn-50", "commercial", "bank", -5, 5, DEGREE),
    ("steep-turn-50", "commercial", "roll-out heading", -10, 10, DEGREE),
    ("steep-spiral", "commercial", "airspeed", -10, 10, KNOT),  # CA.V.B
    ("steep-spiral", "commercial", "roll-out heading", -10, 10, DEGREE),
    ("chandelle", "commercial", "heading at 180", -10, 10, DEGREE),  # CA.V.C
    ("lazy-eight", "commercial", "altitude at each 180", -100, 100, FOOT),  # CA.V.D.S5
    ("lazy-eight", "commercial", "airspeed at each 180", -10, 10, KNOT),
    ("lazy-eight", "commercial", "heading at each 180", -10, 10, DEGREE),
    ("slow-flight", "commercial", "altitude", -50, 50, FOOT),  # CA.VII.A.S5
    ("slow-flight", "commercial", "heading", -10, 10, DEGREE),
    ("slow-flight", "commercial", "airspeed", 0, 5, KNOT),
    ("slow-flight", "commercial", "bank", -5, 5, DEGREE),
    ("slow-flight", "private", "altitude", -100, 100, FOOT),  # PA.VII.A.S5
    ("slow-flight", "private", "heading", -10, 10, DEGREE),
    ("slow-flight", "private", "airspeed", 0, 10, KNOT),
    ("slow-flight", "private", "bank", -10, 10, DEGREE),
    ("power-off-stall", "commercial", "heading", -10, 10, DEGREE),  # CA.VII.B.S6
    ("power-off-stall", "commercial", "bank in a turn", -5, 5, DEGREE),
    ("power-on-stall", "commercial", "heading", -10, 10, DEGREE),  # CA.VII.C
    ("power-on-stall", "commercial", "bank in a turn", -10, 10, DEGREE),
    ("short-field-landing", "commercial", "airspeed", -5, 5, KNOT),  # CA.IV.F
    ("short-field-landing", "commercial", "touchdown beyond the point", 0, 100, FOOT),
    ("power-off-180", "commercial", "touchdown beyond the point", 0, 200, FOOT),  # CA.IV.M.S8
    ("go-around", "commercial", "climb airspeed", -5, 5, KNOT),  # CA.IV.N
]

# The same from memory.
REMEMBERED = [
    ("steep-turn-45", "private", "altitude", -100, 100, FOOT),
    ("steep-turn-45", "private", "bank", -5, 5, DEGREE),
    ("power-off-stall", "private", "bank", -10, 10, DEGREE),
    ("power-on-stall", "private", "bank in a turn", -10, 10, DEGREE),
    ("short-field-landing", "private", "airspeed", -5, 10, KNOT),
    ("short-field-landing", "private", "touchdown beyond the point", 0, 200, FOOT),
    ("go-around", "private", "climb airspeed", -5, 10, KNOT),
]


@pytest.mark.parametrize(
    ("name", "checkride", "what", "below", "above", "unit", "remembered"),
    [(*row, False) for row in READ] + [(*row, True) for row in REMEMBERED],
)
def test_a_limit_is_the_one_of_the_standard_for_that_checkride(
    name: str,
    checkride: Checkride,
    what: str,
    below: float,
    above: float,
    unit: float,
    remembered: bool,
) -> None:
    (standard,) = catalog.standards(name, checkride)
    assert standard.source.startswith(f"{SOURCES[checkride]}, task")
    assert standard.source.endswith(", from memory") == remembered
    (limit,) = (one for one in standard.limits if one.what == what)
    assert limit.band == pytest.approx((below * unit, above * unit))


@cache
def asked_for(checkride: Checkride | None) -> tuple[str, ...]:
    """What a checkride asks for; it reads the whole library."""
    return tuple(syllabus(checkride))


@pytest.mark.parametrize("name", SCRIPTS)
def test_every_maneuver_has_the_standard_of_each_checkride_that_asks_for_it_once(name: str) -> None:
    standards = maneuver(name).standard
    asked = [one.checkride for one in standards]
    assert asked and len(set(asked)) == len(asked)
    assert [one.checkride for one in standards if name in asked_for(one.checkride)] == asked
    for one in standards:
        assert one.checkride is not None
        assert one.source.startswith(SOURCES[one.checkride])
        for limit in one.limits:  # what begins with a figure can be judged by it
            number = limit.within.removeprefix("+")[0].isdigit()
            words = (" to ", " above ", " a second", "1.3 stall")
            assert (limit.band is not None) == (
                number and not any(w in limit.within for w in words)
            )


def test_every_checkride_asks_for_some_of_the_syllabus_and_all_together_for_all_of_it() -> None:
    every = {one: asked_for(one) for one in CHECKRIDES}
    assert all(every.values())
    assert {name for names in every.values() for name in names} == set(syllabus())
    # In both: FAA-S-ACS-6 and FAA-S-ACS-7, areas IV, VII and IX.
    shared = {"slow-flight", "power-off-stall", "power-on-stall", "go-around", "engine-failure"}
    assert shared <= set(every["private"]) & set(every["commercial"])


def test_a_maneuver_that_the_students_checkride_does_not_ask_for_is_told_with_what_it_has() -> None:
    eight = maneuver("lazy-eight").standard
    assert asked_at(eight, "private") == asked_at(eight, None) == eight
    said = "The private checkride does not ask for this; the commercial one does."
    assert not_asked(eight, "private") == said
    slow = maneuver("slow-flight").standard
    said = "The instrument checkride does not ask for this; the private and commercial ones do."
    assert not_asked(slow, "instrument") == said
    assert not_asked(slow, "private") == not_asked(slow, None) == not_asked((), "private") == ""
    assert [one.checkride for one in asked_at(slow, None)] == ["private", "commercial"]
    assert [one.checkride for one in asked_at(slow, "commercial")] == ["commercial"]


OWN = """
maneuver: mine
title: Mine
entry: {speed: 90 kt, height: 3000 ft, power: 50 %}
legs: [{name: on, time: 10 s}]
checkpoints: [{name: end, ends: on}]
standard: {source: my own, limits: [{what: altitude, within: 100 ft}]}
"""


def test_a_students_own_maneuver_names_its_limits_without_a_checkride_or_with_one() -> None:
    own = parse(OWN, Maneuver, faults, "mine.yaml").standard
    assert [(one.checkride, one.title) for one in own] == [(None, "my own")]
    assert asked_at(own, "private") == own
    assert not_asked(own, "private") == ""
    with pytest.raises(Problem, match=r"line 7: .*found 'privat'; did you mean private\?"):
        parse(OWN.replace("{source", "{checkride: privat, source"), Maneuver, faults, "mine.yaml")


def test_a_run_of_something_that_is_in_no_library_has_no_standard() -> None:
    assert catalog.standards("never-heard-of") == ()
    assert catalog.standards(str(shipped("scripts") / "maneuvers" / "lazy-eight.yaml")) == ()
