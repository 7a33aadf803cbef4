"""What is asked of an airplane's numbers that can be flown and are hardly meant."""

import math
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.flight.airplane import load
from coach.flight.doubts import doubts
from coach.flight.fit import derive
from coach.problems import Problem
from coach.script.catalog import find, names
from coach.script.quantities import FOOT, KNOT

REFERENCES = ["tests/reference/c172p.yaml", "tests/reference/c182.yaml"]

Written = Callable[..., str]


def changed(text: str, **slips: str) -> str:
    """An airplane's file with other values: `best_glide="55 kt"`."""
    for key, value in slips.items():
        place = rf"((?:^|[{{,]) *{key.replace('_', ' ')}): [^,}}\n]+"
        text, found = re.subn(place, rf"\1: {value}", text, count=1, flags=re.MULTILINE)
        assert found == 1, key
    return text


@pytest.fixture
def written(tmp_path: Path) -> Written:
    """A shipped airplane's file with what somebody slipped in, as a file of their own."""

    def write(name: str = "meadow-four", **slips: str) -> str:
        path = tmp_path / "mine.yaml"
        path.write_text(changed(find("airplanes", name).read_text("utf-8"), **slips), "utf-8")
        return str(path)

    return write


def in_miles(text: str) -> str:
    """Every speed as somebody reads it off the outer scale of the dial: a mile is 1609.344 m."""
    return re.sub(r"(\d+) kt", lambda knots: f"{round(int(knots[1]) * 1852 / 1609.344)} kt", text)


@pytest.mark.parametrize("name", [*names("airplanes"), *REFERENCES])
def test_no_airplane_that_is_shipped_or_measured_is_doubted(name: str) -> None:
    assert doubts(load(name)) == ()


@pytest.mark.parametrize("name", [*names("airplanes"), *REFERENCES])
def test_speeds_in_miles_an_hour_are_asked_after(tmp_path: Path, name: str) -> None:
    path = tmp_path / "mine.yaml"
    path.write_text(in_miles(find("airplanes", name).read_text("utf-8")), "utf-8")
    (told,) = doubts(load(str(path)))
    assert told.endswith(", or are your speeds in miles an hour?")


@pytest.mark.parametrize(
    ("name", "slips", "told"),
    [
        # A stall with flaps is slower than the clean one; what stands behind 1.8 is common
        # practice, no source.
        (
            "meadow-four",
            {"stall": "44 kt"},
            "A stall at 44 kt takes a greatest lift coefficient of 2.23, and a clean wing has 1.8 "
            "at most: your stall speed looks like the one with flaps.",
        ),
        (
            "orchard-two",
            {"area": "64.5 sq ft"},
            "A span of 29.5 ft makes this wing 13.5 times as long as it is deep, and light "
            "airplanes have 5 to 11: are span and area those of the whole wing?",
        ),
        (
            "orchard-two",
            {"stall": "54 kt", "area": "140 sq ft"},
            "A stall at 54 kt is fast for this wing and weight: the greatest lift coefficient "
            "would be 1.02, and a clean wing has 1.2 at least; are stall, wing area and gross "
            "weight right, or are your speeds in miles an hour?",
        ),
        (
            "meadow-four",
            {"best_glide": "88 kt"},
            "Best glide at 88 kt is fast for this wing: the span efficiency would be 0.24, and it "
            "is 0.3 at least; are best glide, its ratio and gross weight right?",
        ),
        (
            "meadow-four",
            {"cruise": "{speed: 136 kt"},
            "Cruise at 136 kt with 75% of power is fast for an airplane that glides 9.2 to 1 at "
            "68 kt: are its true airspeed in knots, its power and the "
            "glide right?",
        ),
        (
            "orchard-two",
            {"glide_ratio": "14"},
            "Cruise at 109 kt with 75% of power is slow for an airplane that glides 14 to 1 at "
            "65 kt: are its true airspeed in knots, its power and the "
            "glide right?",
        ),
        (
            "meadow-four",
            {"rate": "1254 fpm"},
            "A climb of 1254 feet a minute at 75 kt takes 148% of what the engine is rated for, "
            "and 80% to 140% would be usual: is that row at full throttle, flaps up, at gross "
            "weight?",
        ),
        (
            "meadow-four",
            {"rate": "100 fpm"},
            "A climb of 100 feet a minute at 75 kt takes 63% of what the engine is rated for, "
            "and 80% to 140% would be usual: is that row at full throttle, flaps up, at gross "
            "weight?",
        ),
    ],
    ids=lambda value: "-".join(value) if isinstance(value, dict) else None,
)
def test_a_number_that_is_hardly_meant_is_asked_after_with_the_likely_slip(
    written: Written, name: str, slips: dict[str, str], told: str
) -> None:
    assert told in doubts(load(written(name, **slips)))


@pytest.mark.parametrize(
    ("name", "slips", "told"),
    [
        # Prandtl's lifting line: no wing of a span has less induced drag than the elliptic one,
        # a span efficiency of 1 (any aerodynamics text).
        (
            "meadow-four",
            {"best_glide": "56 kt"},
            "no wing is as good: gliding 9.2 to 1 at 56 kt on a span of 35.5 ft takes a span "
            "efficiency of 1.09, and 1 is the most there is; a glide of about 6.4 to 1 would be "
            "usual. Are glide ratio, best glide and span right?",
        ),
        (
            "meadow-four",
            {"glide_ratio": "20"},
            "cruise and glide do not agree: 118 kt at 75% is too slow for an airplane that glides "
            "20 to 1 at 68 kt; are its true airspeed in knots, its power and the "
            "glide right?",
        ),
        (
            "hillside-four",
            {"cruise": "{speed: 165 kt"},
            "cruise and glide do not agree: 165 kt at 75% is too fast for an airplane that glides "
            "11 to 1 at 82 kt; are its true airspeed in knots, its power and the "
            "glide right?",
        ),
        (
            "meadow-four",
            {"rate": "2900 fpm"},
            "climb and cruise do not agree: 2900 feet a minute at 75 kt takes 303% of what the "
            "engine is rated for; is that row at full throttle, flaps up, and its speed indicated?",
        ),
        (
            "meadow-four",
            {"revolutions": "1500 rpm"},
            "cruise and propeller do not agree: 1500 revolutions a minute are too few for 118 kt "
            "with a propeller of 75 inches; are they and its diameter right?",
        ),
    ],
    ids=lambda value: "-".join(value) if isinstance(value, dict) else None,
)
def test_numbers_that_contradict_each_other_are_refused_with_the_likely_slip(
    written: Written, name: str, slips: dict[str, str], told: str
) -> None:
    plane = load(written(name, **slips))
    with pytest.raises(Problem) as refused:
        derive(plane)
    assert str(refused.value) == f"{plane.title}: {told}"


@pytest.mark.parametrize(
    ("slips", "told"),
    [
        ({"area": "15.8 sq ft"}, "area: found 15.8 sq ft, expected 60 sq ft to 400 sq ft."),
        ({"span": "17.75 ft"}, "and the span from tip to tip?"),
        ({"area": "85 sq ft"}, "the wing would be 14.8 times as long as it is deep"),
    ],
)
def test_a_wing_in_another_unit_or_by_halves_is_refused_by_its_line(
    written: Written, slips: dict[str, str], told: str
) -> None:
    with pytest.raises(Problem) as refused:
        load(written("meadow-four", **slips))
    assert "mine.yaml, line 6: " in str(refused.value)
    assert told in str(refused.value)


@settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    name=st.sampled_from(names("airplanes")),
    ratio=st.floats(7.0, 14.0),
    glide=st.floats(0.7, 1.3),
    span=st.floats(0.7, 1.2),
    cruise=st.floats(0.85, 1.15),
)
def test_no_airplane_that_is_taken_has_a_wing_better_than_the_ideal_one(
    written: Written, name: str, ratio: float, glide: float, span: float, cruise: float
) -> None:
    usual = load(name)
    slips = {
        "glide_ratio": f"{ratio:.2f}",
        "best_glide": f"{glide * usual.speeds.best_glide / KNOT:.1f} kt",
        "span": f"{span * usual.wing.span / FOOT:.1f} ft",
        "cruise": f"{{speed: {cruise * usual.cruise.speed / KNOT:.1f} kt",
    }
    try:
        plane = load(written(name, **slips))
        performance = derive(plane)
    except Problem:
        return
    aspect = plane.wing.span**2 / plane.wing.area
    assert 1.0 / (math.pi * aspect * performance.induced_drag) <= 1.0
    assert performance.least_drag > 0.0
    assert all(told.endswith((".", "?")) for told in doubts(plane))
