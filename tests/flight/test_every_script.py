"""Any airplane, any day, any script of the library: a flight, or one clear sentence."""

import json
import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.brief.board import board
from coach.callouts.sheet import cue_sheet
from coach.drawing.brief import draw
from coach.flight.airplane import Airplane, load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.plan import plan
from coach.problems import Problem
from coach.script.catalog import maneuver
from coach.shelf import shipped

SCRIPTS = sorted(path.stem for path in shipped("scripts").glob("maneuvers/*.yaml"))
AIRPLANES = sorted(path.stem for path in shipped("scripts").glob("airplanes/*.yaml"))

floats = st.floats


SEA_LEVEL_DENSITY = 0.0023769
"""slug/ft3, ICAO Doc 7488."""

KNOT = 1.6878
"""ft/s."""


@st.composite
def airplane_files(draw: st.DrawFn) -> str:
    """An airplane file: numbers that hang together, or stretched until they hardly do."""
    area, loading, most_lift = draw(floats(75, 300)), draw(floats(8, 24)), draw(floats(1, 2))
    gross, ratio = area * loading, draw(floats(6, 15))
    power = min(450, max(45, gross / draw(floats(9, 22))))
    stall = (2 * loading / (SEA_LEVEL_DENSITY * most_lift)) ** 0.5 / KNOT
    glide = draw(floats(1.1, 1.7))
    # Where power and drag meet, if the drag is that of the glide; then somewhere near it.
    least_drag = most_lift / glide**2 / (2 * ratio)
    share, thin = draw(floats(0.5, 0.8)), draw(st.integers(0, 8))
    air = SEA_LEVEL_DENSITY * (1 - 0.03 * thin)
    met = (2 * 0.8 * share * power * 550 / (air * area * least_drag)) ** (1 / 3) / KNOT
    return f"""
airplane: any-at-all
title: Any airplane at all
invented: true
weights: {{empty: {gross * draw(floats(0.4, 0.9)):.0f} lb, gross: {gross:.0f} lb}}
wing: {{area: {area:.1f} sq ft, span: {(area * draw(floats(4.5, 12))) ** 0.5:.1f} ft}}
engine:
  rated power: {power:.0f} hp
  propeller diameter: {draw(floats(55, 85)):.0f} in
  propeller: {draw(st.sampled_from(["fixed pitch", "constant speed"]))}
speeds:
  stall: {stall:.0f} kt
  maneuvering: {stall * draw(floats(1.35, 2.2)):.0f} kt
  best glide: {stall * glide:.0f} kt
glide ratio: {ratio:.1f}
cruise:
  speed: {met * draw(floats(0.7, 1.0)):.0f} kt
  power: {100 * share:.0f} %
  altitude: {thin * 1000} ft
"""


@st.composite
def days(draw: st.DrawFn, airplane: Airplane) -> Day:
    """A day within the limits of the command line, or now and then beyond them."""
    empty, gross = (weight / 0.45359237 for weight in vars(airplane.weights).values())
    ground = draw(st.integers(0, 7)) * 1000
    sometimes = st.booleans()
    return Day(
        weight=f"{empty + draw(floats(0.05, 1.0)) * (gross - empty):.2f}",
        ground=f"{ground}",
        altitude=f"{ground + draw(st.integers(1, 6)) * 1000}" if draw(sometimes) else None,
        altimeter=f"{draw(floats(28.5, 31.0)):.2f}" if draw(sometimes) else None,
        temperature=f"{draw(st.integers(-25, 45))}" if draw(sometimes) else None,
        wind=draw(
            st.sampled_from(
                [None, "calm", "across@15", "across@30", "240@10", "010@25", "090@40", "180@60"]
            )
        ),
        entry_speed=f"{draw(st.integers(45, 190))}" if draw(st.integers(0, 4)) == 0 else None,
        direction=draw(st.sampled_from(["right", "left"])),
        loops=draw(st.sampled_from([None, 1, 2])),
    )


def sound(flight: Flight) -> None:
    """Everything is a number, nothing under the ground, and nothing stalled that is not meant to."""
    for name, column in flight.table().items():
        # A governor's revolutions are not for the throttle to say.
        known = name != "rpm" or flight.airplane.engine.propeller == "fixed pitch"
        assert np.isfinite(column).all() == known, name
        assert column.size > 1
    for moment in flight.moments:
        assert np.isfinite(
            [value for value in vars(moment).values() if isinstance(value, float)]
        ).all()
    assert flight.table()["height_ft"].min() > -20.0
    if not flight.maneuver.may_stall:
        assert flight.table()["stall_margin_kt"].min() > 0.0


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_the_planner_answers_with_a_flight_or_one_clear_sentence(data: st.DataObject) -> None:
    script = maneuver(data.draw(st.sampled_from(SCRIPTS), label="script"))
    written = data.draw(airplane_files(), label="airplane")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "any.yaml"
        path.write_text(written, encoding="utf-8")
        try:
            airplane = load(str(path))
        except Problem as problem:
            clear(problem)
            return
    day = data.draw(days(airplane), label="day")
    try:
        flight = plan(script, airplane, conditions(day, script, airplane))
    except Problem as problem:
        clear(problem)
    else:
        sound(flight)


def clear(problem: Problem) -> None:
    """One sentence, with a full stop, that shows no number that is none."""
    text = str(problem)
    assert "\n" not in text
    assert len(text) < 400
    assert text.endswith((".", "?"))
    assert " nan" not in text
    assert " inf" not in text


@pytest.mark.parametrize("name", SCRIPTS)
def test_a_script_of_the_library_is_briefed_drawn_and_placed(name: str, tmp_path: Path) -> None:
    script, airplane = maneuver(name), load("meadow-four")
    flight = plan(script, airplane, conditions(Day(), script, airplane))
    sound(flight)
    json.dumps(board(flight), allow_nan=False)
    sheet = cue_sheet(flight, {})
    assert np.isfinite([cue.start_s for cue in sheet.cues]).all()
    picture = tmp_path / "brief.png"
    draw(flight, picture)
    assert picture.stat().st_size > 10_000


@pytest.mark.parametrize(
    ("name", "direction"),
    [("meadow-four", "right"), *((name, "left") for name in AIRPLANES)],
)
def test_an_airplane_of_the_library_flies_every_script(name: str, direction: str) -> None:
    airplane = load(name)
    for script in map(maneuver, SCRIPTS):
        flight = plan(script, airplane, conditions(Day(direction=direction), script, airplane))
        sound(flight)
        reached = {moment.name for moment in flight.moments}
        assert reached == {one.name for one in script.checkpoints}, script.title
