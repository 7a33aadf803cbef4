"""The brief as values, as words, as a table and as a picture."""

import csv
import io
import itertools
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from rich.console import Console

from coach.brief.board import board, history_csv
from coach.brief.warnings import warnings
from coach.brief.words import page
from coach.drawing.brief import draw
from coach.drawing.track import draw_track
from coach.flight.airplane import load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.plan import plan
from coach.problems import Problem
from coach.script.catalog import maneuver
from coach.words import clock


@pytest.fixture(scope="module")
def flight() -> Flight:
    script, plane = maneuver("lazy-eight"), load("meadow-four")
    return plan(script, plane, conditions(Day(weight="2300", wind="240@12"), script, plane))


def test_the_values_hold_what_a_program_needs(flight: Flight) -> None:
    values = board(flight)
    assert {"entry", "checkpoints", "standards", "warnings"} <= values.keys()
    assert len(values["checkpoints"]) == 16
    assert set(values["checkpoints"][0]) == {
        "loop",
        "name",
        "time_s",
        "turned_deg",
        "heading_deg",
        "pitch_deg",
        "bank_deg",
        "ias_kt",
        "altitude_ft",
        "turn_rate_dps",
        "load_factor",
        "stall_margin_kt",
        "rudder",
        "elevator",
        "elevator_rate",
        "aileron",
        "roll_dps",
        "asks",
        "power_percent",
        "rpm",
    }
    (standard,) = values["standards"]
    assert standard["source"] == "FAA-S-ACS-7, task V.D"
    assert any("handbook" in caution for caution in values["cautions"])


def test_the_page_shows_everything_on_eighty_columns(flight: Flight) -> None:
    console = Console(width=80, file=io.StringIO(), record=True)
    console.print(page(flight))
    text = console.export_text()
    assert max(len(line) for line in text.splitlines()) <= 80
    for word in ("Entry", "maneuvering", "density altitude", "wind 240", "loop", "Standard",
                 "Common errors", "licensed instructor", "first reference"):  # fmt: skip
        assert word in " ".join(text.split())
    for moment in flight.moments:
        assert f"{moment.altitude_ft:,.0f}" in text


def test_the_page_shows_each_checkpoint_with_its_signs_and_sides(flight: Flight) -> None:
    console = Console(width=80, record=True, file=io.StringIO())
    console.print(page(flight))
    shown = [line.split() for line in console.export_text().splitlines()]
    for moment in flight.moments:
        row = next(words for words in shown if words[:2] == [str(moment.loop), moment.name])
        pitch, bank = round(moment.pitch_deg), round(moment.bank_deg)
        assert row[4] == (f"{pitch:+d}" if pitch else "0")
        assert row[5:7] == ([str(abs(bank)), "R" if bank > 0 else "L"] if bank else ["0", row[6]])


@pytest.mark.parametrize("name", ["lazy-eight", "short-field-landing"])
def test_the_brief_says_when_the_least_margin_comes_and_how_fast_that_is(name: str) -> None:
    script, plane = maneuver(name), load("meadow-four")
    flown = plan(script, plane, conditions(Day(), script, plane))
    least = board(flown)["least_margin"]
    table = flown.at(np.linspace(0.0, flown.length_s, 5000))
    assert least["stall_margin_kt"] == pytest.approx(table["stall_margin_kt"].min(), abs=0.1)
    there = flown.at(least["time_s"])
    assert there["stall_margin_kt"][0] == pytest.approx(least["stall_margin_kt"])
    assert there["ias_kt"][0] == pytest.approx(least["ias_kt"])
    # Of loops that are flown alike the first.
    earlier = table["t_s"] < least["time_s"] - 1.0
    assert (table["stall_margin_kt"][earlier] > least["stall_margin_kt"]).all()
    console = Console(width=80, record=True, file=io.StringIO())
    console.print(page(flown))
    seconds = round(least["time_s"])
    said = (
        f"{least['ias_kt']:.0f} kt, {least['stall_margin_kt']:.0f} above the stall, "
        f"at {seconds // 60}:{seconds % 60:02d}"
    )
    assert said in console.export_text()


def test_a_maneuver_that_stalls_says_so_where_another_has_its_margin() -> None:
    script, plane = maneuver("power-off-stall"), load("meadow-four")
    console = Console(width=80, record=True, file=io.StringIO())
    console.print(page(plan(script, plane, conditions(Day(), script, plane))))
    assert "kt, the stall itself, at 0:1" in console.export_text()


def test_a_maneuver_that_comes_near_the_stall_is_warned_of_with_its_margin() -> None:
    script, plane = maneuver("steep-turn-45"), load("meadow-four")
    for entry, told in (("64", True), ("78", False)):
        flown = plan(script, plane, conditions(Day(entry_speed=entry), script, plane))
        nearest = flown.at(np.linspace(0.0, flown.length_s, 5000))["stall_margin_kt"].min()
        near = f"{plane.title} comes within {nearest:.0f} knots of the stall."
        assert (near in warnings(flown)) == told == (nearest < 3.0)


def test_a_fixed_pitch_airplane_s_setting_is_in_revolutions_that_wander(flight: Flight) -> None:
    console = Console(width=200, record=True, file=io.StringIO())
    console.print(page(flight))
    facts, turning = board(flight)["entry"], flight.recorded("turns") * 60.0
    least, most = (10 * round(rpm / 10) for rpm in (turning.min(), turning.max()))
    assert facts["rpm"] == pytest.approx(turning[0])
    assert 1800 < least < turning[0] < most + 10 < 2800
    line = next(line for line in console.export_text().splitlines() if "of rated" in line)
    assert f"{10 * round(facts['rpm'] / 10):,} rpm, {facts['power_percent']:.0f} % of" in line
    assert f"left alone; its revolutions wander from {least:,} to {most:,} rpm" in line


@pytest.mark.parametrize(
    ("name", "begins", "throttle"),
    [
        ("eights-on-pylons", "pylon", "left alone"),
        ("chandelle", "pitch rising, bank held", "full"),
        ("power-off-180", "slowing to best glide", "idle"),
    ],
)
def test_the_revolutions_wander_wherever_the_throttle_is_left_alone(
    name: str, begins: str, throttle: str
) -> None:
    script, plane = maneuver(name), load("meadow-four")
    flown = plan(script, plane, conditions(Day(), script, plane))
    alone = board(flown)["entry"]["rpm_left_alone"]
    begun = next(span.start_s for span in flown.spans if span.leg == begins)
    assert begun - 6.0 < alone["from_s"] < begun + 1.5  # or as soon as the speed is held
    time, turning = flown.recorded("time"), flown.recorded("turns") * 60.0
    then = turning[(time >= alone["from_s"]) & (time <= alone["to_s"])]
    assert (alone["least"], alone["most"]) == pytest.approx((then.min(), then.max()))
    console = Console(width=200, record=True, file=io.StringIO())
    console.print(page(flown))
    when = f"{throttle} from {clock(alone['from_s'])} to {clock(alone['to_s'])}, its revolutions"
    assert when in console.export_text()


def test_a_throttle_that_is_moved_all_the_time_says_nothing_of_wandering() -> None:
    script, plane = maneuver("s-turns"), load("meadow-four")
    flown = plan(script, plane, conditions(Day(), script, plane))
    assert board(flown)["entry"]["rpm_left_alone"] is None


def test_a_governor_s_revolutions_are_left_empty() -> None:
    script, plane = maneuver("lazy-eight"), load("hillside-four")
    flown = plan(script, plane, conditions(Day(loops=1), script, plane))
    values = board(flown)
    assert values["entry"]["rpm"] is values["entry"]["rpm_left_alone"] is None
    assert {one["rpm"] for one in values["checkpoints"]} == {None}
    rows = list(csv.DictReader(io.StringIO(history_csv(flown))))
    assert {row["rpm"] for row in rows} == {""}
    assert float(rows[0]["power_percent"]) == pytest.approx(100.0 * flown.power, abs=0.06)


def test_the_table_is_the_flight_at_ten_hertz(flight: Flight) -> None:
    rows = list(csv.DictReader(io.StringIO(history_csv(flight))))
    assert (
        list(rows[0])
        == (
            "t_s loop heading_deg turned_deg pitch_deg path_deg bank_deg ias_kt tas_kt altitude_ft "
            "turn_rate_dps load_factor stall_margin_kt alpha_deg rudder elevator aileron "
            "power_percent rpm east_ft north_ft"
        ).split()
    )
    assert len(rows) == pytest.approx(flight.length_s * 10, abs=1)
    assert [float(row["t_s"]) for row in rows[:3]] == [0.0, 0.1, 0.2]
    for moment in flight.moments:
        row = rows[min(round(moment.time_s * 10), len(rows) - 1)]
        assert float(row["ias_kt"]) == pytest.approx(moment.ias_kt, abs=0.6)
        assert float(row["bank_deg"]) == pytest.approx(moment.bank_deg, abs=0.6)


@pytest.mark.parametrize(("ending", "start"), [(".png", b"\x89PNG"), (".svg", b"<?xml")])
def test_the_picture_is_written_whole(
    flight: Flight, tmp_path: Path, ending: str, start: bytes
) -> None:
    path = tmp_path / f"brief{ending}"
    draw(flight, path)
    assert path.read_bytes().startswith(start)
    assert [one.name for one in tmp_path.iterdir()] == [path.name]


def test_a_picture_that_cannot_be_written_is_one_sentence(flight: Flight, tmp_path: Path) -> None:
    with pytest.raises(Problem, match=r"\.png or \.svg"):
        draw(flight, tmp_path / "brief.gif")
    with pytest.raises(Problem, match="cannot be written: No such file or directory"):
        draw(flight, tmp_path / "nowhere" / "brief.png")
    assert not list(tmp_path.iterdir())


def told(name: str, day: Day | None = None) -> str:
    """The brief's page of a maneuver, its lines joined."""
    script, plane = maneuver(name), load("meadow-four")
    console = Console(width=80, record=True, file=io.StringIO())
    console.print(page(plan(script, plane, conditions(day or Day(), script, plane))))
    return " ".join(console.export_text().split())


def test_a_course_flown_with_a_crab_has_both_its_heading_and_its_course() -> None:
    # sin(crab) = 20 kt across over 101 kt true: 11 degrees.
    crossed = told("holding-pattern", Day(wind="090@20", heading="360"))
    assert "heading 011 to keep the course 360, wind 090 at 20 kt" in crossed
    assert "heading 360, wind 360 at 15 kt" in told("holding-pattern")


def test_a_wind_that_the_maneuver_is_not_laid_out_for_is_a_warning() -> None:
    usual = told("eights-on-pylons")
    crossed = told("eights-on-pylons", Day(wind="095@18", heading="010", direction="left"))
    assert "The wind is not" not in usual and "laid out" not in usual
    assert "The wind is not half behind you at the entry" in crossed
    assert "where the maneuver is laid out for 35" in crossed
    assert "WARNING" not in told("traffic-pattern", Day(wind="090@12", heading="360"))


def test_only_what_turns_has_a_first_turn() -> None:
    assert "first turn right" in told("standard-rate-turns")
    assert "first turn" not in told("climb-at-constant-speed")


@pytest.mark.parametrize("name", ["holding-pattern", "turns-around-a-point", "s-turns"])
def test_no_label_of_a_track_covers_another_one_or_reaches_beyond_it(name: str) -> None:
    script, plane = maneuver(name), load("meadow-four")
    day = Day(wind="095@18", heading="010", direction="left")
    figure = Figure(figsize=(11.0, 8.5), layout="constrained")
    axes = figure.add_subplot()
    draw_track(axes, plan(script, plane, conditions(day, script, plane)))()
    figure.draw_without_rendering()
    boxes = [text.get_window_extent() for text in axes.texts if text.get_text()]
    assert len(boxes) > 4
    for one, other in itertools.combinations(boxes, 2):
        assert not one.overlaps(other)
    frame = axes.get_window_extent()
    assert all(frame.contains(*box.min) and frame.contains(*box.max) for box in boxes)
