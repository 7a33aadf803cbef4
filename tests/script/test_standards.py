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
from coach.script.standards import CHECKRIDES, Checkride, Standard, asked_at, not_asked, tolerances
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


# What limits which number at which checkpoints, in degrees, knots and feet. The commercial ones as
# read in copies of FAA-S-ACS-7's element tables; the private ones from memory, but for slow flight.
HELD = [
    ("lazy-eight", "commercial", "180", {"heading": (10, 10), "speed": (10, 10), "altitude": (100, 100)}),
    ("lazy-eight", "commercial", "90", {}),  # V.D: each 180 degree point
    ("lazy-eight", "private", "180", {}),
    ("chandelle", "commercial", "180", {"heading": (10, 10)}),
    ("chandelle", "commercial", "90", {}),
    ("steep-turn-50", "commercial", "90", {"bank": (5, 5), "speed": (10, 10), "altitude": (100, 100)}),
    ("steep-turn-50", "commercial", "rolled out", {"heading": (10, 10), "speed": (10, 10), "altitude": (100, 100)}),
    ("slow-flight", "commercial", "slow", {"heading": (10, 10), "speed": (0, 5), "altitude": (50, 50), "bank": (5, 5)}),
    ("slow-flight", "private", "slow", {"heading": (10, 10), "speed": (0, 10), "altitude": (100, 100), "bank": (10, 10)}),
    ("slow-flight", "private", "cruise", {"heading": (10, 10), "altitude": (100, 100), "bank": (10, 10)}),
    ("steep-spiral", "commercial", "first turn", {"speed": (10, 10)}),
    ("steep-spiral", "commercial", "rolled out", {"speed": (10, 10), "heading": (10, 10)}),
    ("go-around", "commercial", "climbing", {"speed": (5, 5)}),
    ("go-around", "private", "climbing", {"speed": (5, 10)}),
    ("climb-at-constant-speed", "private", "level", {"speed": (10, 10), "heading": (20, 20), "altitude": (200, 200)}),
    ("traffic-pattern", "private", "final", {"speed": (5, 10)}),
    ("emergency-descent", "commercial", "half turn", {"speed": (10, 0)}),
    ("power-off-180", "commercial", "final", {}),
]  # fmt: skip


@pytest.mark.parametrize(("name", "checkride", "at", "held"), HELD)
def test_a_run_is_judged_at_a_checkpoint_by_the_limits_that_hold_there(
    name: str, checkride: Checkride, at: str, held: dict[str, tuple[float, float]]
) -> None:
    found = [one for one in tolerances(maneuver(name).standard, checkride) if one.holds(at)]
    assert {one.of: (one.below, one.above) for one in found} == {
        of: pytest.approx(band) for of, band in held.items()
    }
    assert all(SOURCES[checkride] in one.source for one in found)


def test_who_learns_for_no_checkride_is_judged_by_the_first_standard() -> None:
    slow = maneuver("slow-flight").standard
    assert tolerances(slow, None) == tolerances(slow, "private")
    assert tolerances((), None) == ()


@pytest.mark.parametrize(
    ("limit", "sentence"),
    [
        ({"within": "about 30 deg", "of": "bank"}, "within: found 'about 30 deg', expected a limit of bank"),
        ({"within": "10 kt", "of": "heading"}, "within: found '10 kt', expected a limit of heading"),
        ({"within": "100 ft", "of": "speed"}, "expected a limit of speed, such as '+10 -5 kt'"),
        ({"within": "+0 -0 kt", "of": "speed"}, "expected a limit of speed"),
        ({"within": "10 kt", "at": ["90"]}, "the key 'of' is missing"),
        ({"within": "10 kt", "of": "speed", "at": ["91"]}, "there is no checkpoint '91'"),
    ],
)  # fmt: skip
def test_a_limit_that_a_run_cannot_be_judged_by_is_told(
    limit: dict[str, object], sentence: str
) -> None:
    written = {"source": "a club's own", "limits": [{"what": "it", **limit}]}
    script = maneuver("chandelle").model_copy(
        update={"standard": (Standard.model_validate(written),)}
    )
    (fault,) = [words for place, words in faults(script) if place[0] == "standard"]
    assert sentence in fault
