"""An airplane's own speeds, flaps, gear and power settings: given, checked, flown by and asked after."""

import re
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.brief.board import board
from coach.brief.warnings import warnings
from coach.callouts.own import own, silent
from coach.flight.airplane import load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.doubts import doubts
from coach.flight.flight import Flight
from coach.flight.plan import plan
from coach.flight.speeds import LEAST_CLEAN, USUAL, handbook_speed, stall_speed
from coach.problems import Problem
from coach.script.catalog import find, names
from coach.script.faults import faults as script_faults
from coach.script.maneuver import Maneuver
from coach.script.quantities import KNOT
from coach.script.reading import parse
from coach.script.targets import Target

Written = Callable[..., str]

OWN = re.compile(
    r"^  (rotation|best angle|best rate|approach|short field|flaps extended): .*\n", re.M
)


def bare(text: str) -> str:
    """An airplane's file without all that it may leave out of what is flown by."""
    return OWN.sub("", text[: text.index("\n# Of its handbook's normal procedures.")] + "\n")


MEADOW = find("airplanes", "meadow-four").read_text("utf-8")
BARE = bare(MEADOW)


@pytest.fixture
def mine(tmp_path: Path) -> Written:
    """A file with some speeds, and lines at its end, beside what every airplane's file has."""

    def write(speeds: str = "", lines: str = "", text: str = BARE) -> str:
        path = tmp_path / "mine.yaml"
        added = "".join(f"  {one}\n" for one in speeds.split("; ") if one)
        text = text.replace("glide ratio:", f"{added}glide ratio:", 1)
        path.write_text(f"{text}{lines}\n", encoding="utf-8")
        return str(path)

    return write


def go_around() -> Maneuver:
    """The go-around of the library, flown at the airplane's own speeds."""
    text = find("maneuvers", "go-around").read_text("utf-8")
    for leg, speed in (("final", "approach"), ("best angle", "best angle"), ("best rate",) * 2):
        text = re.sub(rf"(name: {leg}, .*speed): [^,]+,", rf"\1: {speed},", text)
    text = re.sub(r"^  speed: \[.*\]$", "  speed: [approach]", text, count=1, flags=re.M)
    return parse(text, Maneuver, script_faults, "go-around")


def flown(airplane: str, day: Day | None = None) -> Flight:
    """That go-around in an airplane."""
    script, plane = go_around(), load(airplane)
    return plan(script, plane, conditions(day or Day(), script, plane))


@pytest.mark.parametrize(
    ("speeds", "lines", "told"),
    [
        (
            "best angle: 80 kt; best rate: 76 kt",
            "",
            "best angle (80 kt) must not be faster than best rate (76 kt).",
        ),
        ("approach: 50 kt", "", "approach (50 kt) must be faster than the stall (52 kt)."),
        (
            "approach: 65 kt; short field: 68 kt",
            "",
            "short field (68 kt) must not be faster than approach (65 kt).",
        ),
        (
            "approach: 85 kt; flaps extended: 80 kt",
            "",
            "approach (85 kt) must not be faster than flaps extended (80 kt).",
        ),
        ("best rate: 160 kt", "", "best rate (160 kt) must be slower than never exceed (158 kt)."),
        ("best rate: 500 kt", "", "found 500 kt, expected 30 kt to 170 kt."),
        ("best rat: 76 kt", "", "unknown key 'best rat'; did you mean best rate?"),
        (
            "gear operating: 110 kt",
            "gear: fixed",
            "gear operating is a speed of 'gear: retractable', which is not here.",
        ),
        ("", "flaps: [20 deg, 10 deg]", "flap steps must increase, but 10 deg follows 20."),
        ("", "flaps: [20]", "found 20 without a unit, expected an angle in deg or °,"),
        ("flaps extended: 85 kt", "flaps: []", "an airplane without flaps has no speed for them."),
        ("", "gear: up", "found 'up'; choose from fixed, retractable."),
        (
            "",
            "power: {pattern: 20 in 2300 rpm}",
            "a propeller of fixed pitch is set by revolutions alone, such as 2100 rpm.",
        ),
        ("", "power: {pattern: 2900 rpm}", "2,900 rpm is more than the rated 2,700 rpm."),
        (
            "",
            "power: {pattern: some}",
            "found 'some', expected a power setting such as '2100 rpm', '20 in 2300 rpm', '55 %', "
            "full or idle.",
        ),
        ("", "power: {pattern: 9 rpm}", "found 9 rpm, expected 500 rpm to 6000 rpm."),
    ],
)
def test_numbers_that_cannot_be_are_refused_in_one_sentence_with_their_line(
    mine: Written, speeds: str, lines: str, told: str
) -> None:
    with pytest.raises(Problem) as refused:
        load(mine(speeds, lines))
    line, sentence = re.fullmatch(r".*, line (\d+): (.*)", str(refused.value)).groups()  # type: ignore[union-attr]
    assert told in sentence
    assert int(line) > BARE.count("\n") or 13 < int(line) < 21


def test_revolutions_alone_are_no_power_of_a_constant_speed_propeller(tmp_path: Path) -> None:
    text = find("airplanes", "hillside-four").read_text("utf-8")
    path = tmp_path / "mine.yaml"
    path.write_text(text.replace("19 in 2300 rpm", "2300 rpm"), encoding="utf-8")
    with pytest.raises(Problem, match="expected '20 in 2300 rpm' or '55 %'"):
        load(str(path))


def test_a_file_that_gives_none_of_it_flies_as_before_and_defers_to_its_handbook(
    mine: Written,
) -> None:
    plane = load(mine())
    assert own(plane)["best_rate"] == "your handbook's best-rate speed"
    assert own(plane)["landing_flaps"] == "full flaps"
    assert set(silent(plane)) == set(own(plane))
    flight = flown(mine())
    stall = stall_speed(flight.performance, flight.conditions.mass)
    for name, times in USUAL.items():
        assert flight.speed_of(Target(name, 1.0, 0.0)) == pytest.approx(times * stall)


@pytest.mark.parametrize("name", names("airplanes"))
def test_a_shipped_airplane_is_silent_about_nothing_and_flown_at_its_own_speeds(name: str) -> None:
    flight, speeds = flown(name), load(name).speeds
    assert not silent(flight.airplane)
    assert flight.entry_speed_kt == pytest.approx((speeds.approach or 0.0) / KNOT, abs=0.1)
    climbing = next(one for one in flight.moments if one.name == "climbing")
    assert climbing.ias_kt == pytest.approx((speeds.best_rate or 0.0) / KNOT, abs=1.5)
    assert not [line for line in warnings(flight) if line.startswith("Flown here")]


def test_a_handbook_s_speed_is_flown_at_every_weight_and_what_stands_in_falls_with_it(
    mine: Written,
) -> None:
    plane = load(mine("approach: 66 kt"))
    performance, gross = flown(mine("approach: 66 kt")).performance, plane.weights.gross
    for mass in (gross, 0.8 * gross):
        assert handbook_speed("approach", plane, performance, mass) == pytest.approx(66 * KNOT)
    ratio = [handbook_speed("best rate", plane, performance, mass) for mass in (gross, 0.8 * gross)]
    assert ratio[1] / ratio[0] == pytest.approx(0.8**0.5)


def test_what_stands_in_keeps_the_order_of_what_is_given(mine: Written) -> None:
    flight = flown(mine("best rate: 65 kt"))  # 1.3 times the stall would be 68
    assert flight.speed_of(Target("best angle", 1.0, 0.0)) == pytest.approx(65 * KNOT)


def test_an_approach_with_flaps_below_what_the_clean_model_flies_is_said(mine: Written) -> None:
    flight = flown(mine("approach: 58 kt", "flaps: [30 deg]"))
    slowest = LEAST_CLEAN * stall_speed(flight.performance, flight.conditions.mass) / KNOT
    assert flight.entry_speed_kt == pytest.approx(slowest, abs=0.1)
    assert (
        "Flown here at 62 knots, not at the approach speed of 58: the model has no flaps, and "
        "keeps to 1.2 times its stall." in warnings(flight)
    )
    told = {row["what"]: row["value"] for row in board(flight)["entry"]["handbook"]}
    assert told["approach"] == "58 kt (62 kt flown here)"
    assert told["best rate"] == "your handbook's (78 kt flown here)"
    assert "short field" not in told  # no part of a go-around


@pytest.mark.parametrize(
    ("speeds", "lines", "told"),
    [
        (
            "best rate: 101 kt",
            "",
            "Best rate at 101 kt is fast: this airplane would climb best at 81 kt; is it "
            "indicated, in knots, at sea level and gross weight?",
        ),
        (
            "approach: 90 kt",
            "",
            "The approach speed of 90 kt is 1.73 times the clean stall speed, and 1.1 to 1.6 would "
            "be usual: is it indicated, in knots, and that of final?",
        ),
        (
            "",
            "power: {pattern: 1200 rpm}",
            "A pattern flown with 1,200 rpm does not hold its altitude: this airplane finds no "
            "speed in level flight for it; is that setting the one for level flight?",
        ),
    ],
)
def test_what_is_hardly_meant_is_asked_after(
    mine: Written, speeds: str, lines: str, told: str
) -> None:
    assert doubts(load(mine(speeds, lines))) == (told,)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_any_speeds_within_the_bounds_fly_a_go_around_or_are_refused_in_one_sentence(
    data: st.DataObject,
) -> None:
    def some(least: int, most: int) -> int | None:
        return data.draw(st.none() | st.integers(least, most))

    speeds = {
        "rotation": some(25, 120),
        "best angle": some(53, 90),
        "best rate": some(60, 157),
        "approach": some(53, 90),
        "short field": some(53, 80),
        "flaps extended": some(60, 120),
    }
    lines = "".join(f"  {name}: {speed} kt\n" for name, speed in speeds.items() if speed)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "mine.yaml"
        path.write_text(BARE.replace("glide ratio:", f"{lines}glide ratio:", 1), encoding="utf-8")
        try:
            flight = flown(str(path))
        except Problem as problem:
            assert "\n" not in str(problem)
            assert str(problem).endswith((".", "?"))
            return
    assert flight.table()["stall_margin_kt"].min() > 0.0
    assert np.isfinite(flight.table()["altitude_ft"]).all()
