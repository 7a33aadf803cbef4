"""Promises of a warm-up: what it flies, what it leaves out, and what ends one maneuver or all."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from coach.commands import live
from coach.commands.cli import main
from coach.flight.day import Day
from coach.problems import Problem
from coach.rehearsal import warmup as warming
from coach.rehearsal.progress import Done
from coach.rehearsal.ready import Rehearsal, fly
from coach.rehearsal.recording import record_all
from coach.script.maneuver import PATTERN_HEIGHT
from coach.script.quantities import FOOT
from coach.script.warmup import load
from coach.settings import USUAL, change
from coach.sound.bed import LEVELS

TEXT = """warmup: mine
title: Mine
pause: {pause}
maneuvers:
  - {{maneuver: go-around}}
  - {{maneuver: power-off-stall}}
  - {{maneuver: steep-turn-45, loops: 1}}
"""

NEAR_GROUND = {
    *("go-around", "short-field-landing", "power-off-180", "traffic-pattern"),
    *("rectangular-course", "s-turns", "turns-around-a-point", "eights-on-pylons"),
}


@pytest.fixture(autouse=True)
def _silent(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_OUTPUT", "silent")


@pytest.fixture
def flown(monkeypatch: pytest.MonkeyPatch) -> list[Rehearsal]:
    """What would have been flown; every maneuver is, to its end."""
    found: list[Rehearsal] = []

    def at_once(ready: Rehearsal, *_: object, **__: object) -> Done:
        found.append(ready)
        return Done(True, (), "")

    monkeypatch.setattr(live, "fly", at_once)
    monkeypatch.setattr(live, "tell", lambda *_: None)
    return found


def script(folder: Path, text: str = TEXT, pause: str = "0 s") -> str:
    path = folder / "mine.yaml"
    path.write_text(text.format(pause=pause), encoding="utf-8")
    return str(path)


def coach(*words: str) -> Result:
    return CliRunner().invoke(main, words)


def test_an_altitude_is_for_what_is_entered_up_high(home: Path, flown: list[Rehearsal]) -> None:
    told = coach(
        "warmup", script(home), "--altitude", "4500", "--ground", "800", "--support", "start"
    )
    assert told.exit_code == 0, told.output
    first, *_, last = told.stdout.splitlines()
    assert first.startswith("mine: 3 maneuvers, about ")
    assert first.endswith(" min: go-around, power-off-stall, steep-turn-45.")
    assert last == "3 of 3 flown."
    entries = [one.flight.history.conditions.altitude / FOOT for one in flown]
    assert entries == pytest.approx([1000.0, 4500.0, 4500.0])


def test_the_ground_decides_where_landings_patterns_and_figures_over_it_begin() -> None:
    from coach.script import catalog

    low = {name for name in catalog.names("maneuvers") if catalog.maneuver(name).entry.near_ground}
    assert low == NEAR_GROUND
    assert PATTERN_HEIGHT / FOOT == 1000.0


@pytest.mark.parametrize("name", ["go-around", "traffic-pattern", "short-field-landing"])
def test_alone_an_altitude_far_above_the_ground_is_one_sentence_at_once(name: str) -> None:
    with pytest.raises(Problem, match=r"^altitude: found 3500 ft, but .* is entered \d+ ft above"):
        fly(name, "meadow-four", Day(altitude="3500"))
    with pytest.raises(Problem, match=r"give the elevation of the ground too\.$"):
        fly(name, "meadow-four", Day(altitude="3500", ground="1000"))


def test_with_the_elevation_of_the_field_the_same_altitude_is_flown() -> None:
    found = fly("go-around", "meadow-four", Day(altitude="3500", ground="3300"))
    assert found.at(0.0)["height_ft"] == pytest.approx(200.0)


def test_what_cannot_be_flown_is_named_first_and_the_others_are_flown(
    home: Path, flown: list[Rehearsal]
) -> None:
    high = ("--altitude", "14500", "--temperature", "25", "--support", "start")
    told = coach("warmup", script(home), *high)
    assert told.exit_code == 0, told.output
    stall, turn, whole, *_, last = told.stdout.splitlines()
    assert stall.startswith("Left out, power-off-stall: Meadow Four, ")
    assert turn.startswith("Left out, steep-turn-45: Meadow Four, ")
    assert whole.startswith("mine: 1 maneuver, about ")
    assert [one.flight.maneuver.maneuver for one in flown] == ["go-around"]
    assert last == "1 of 1 flown."


def test_where_none_can_be_flown_it_is_one_sentence(home: Path) -> None:
    told = coach("warmup", script(home), "--wind", "strong")
    assert told.exit_code == 1
    assert told.stderr.splitlines()[-1].startswith("Error: --wind: found 'strong', expected calm")


def test_it_begins_where_it_is_told_to(home: Path, flown: list[Rehearsal]) -> None:
    for start in ("power-off-stall", "2"):
        flown.clear()
        told = coach("warmup", script(home), "--from", start, "--support", "start")
        assert told.stdout.splitlines()[-1] == "2 of 2 flown."
        assert flown[0].flight.maneuver.maneuver == "power-off-stall"
    told = coach("warmup", script(home), "--from", "power-on-stall")
    assert told.stderr == (
        "Error: --from: mine has no 'power-on-stall'; did you mean power-off-stall?\n"
    )


def test_a_maneuver_that_comes_twice_is_gone_on_with_by_its_number() -> None:
    found = load("commercial-morning")
    assert [item.maneuver for item in found.maneuvers[1:3]] == ["chandelle", "chandelle"]
    assert [warming.called(found, place) for place in (1, 2, 3)] == [
        "steep-turn-50",
        "chandelle",
        "3",
    ]
    for place in range(1, len(found.maneuvers) + 1):
        assert warming.place(found, warming.called(found, place)) == place


def test_how_to_go_on_repeats_what_was_given_and_the_order_that_was_drawn(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live, "fly", lambda *_, **__: Done(False, (), "", left=True))
    shuffled = script(home, TEXT.replace("title:", "order: shuffled\ntitle:"))
    given = ("--wind", "24012KT", "--student", "Tam Oak", "--support", "start", "--pace", "0.8")
    left, told = coach("warmup", shuffled, *given, "--seed", "7").stdout.splitlines()[-2:]
    first = load(shuffled).shuffled(7).maneuvers[0].maneuver
    assert left == "0 of 3 flown; go on with:"
    assert told.startswith(f"coach warmup {shuffled} --wind 24012KT ")
    assert "--student 'Tam Oak'" in told
    assert told.endswith(f"--from {first} --seed 7")


def test_check_tells_what_is_in_it(home: Path) -> None:
    told = coach("check", "five-minutes", script(home))
    assert told.exit_code == 0
    lines = told.stdout.splitlines()
    assert lines[0] == "five-minutes: a warm-up, fit to fly"
    assert lines[1].startswith("  five-minutes: 4 maneuvers, about ")
    assert lines[3].endswith(" min: go-around, power-off-stall, steep-turn-45.")
    (home / "mine.yaml").write_text(TEXT.format(pause="1 h"), encoding="utf-8")
    told = coach("check", str(home / "mine.yaml"))
    assert told.exit_code == 1
    assert "mine.yaml, line 3: pause: " in told.stdout


@pytest.mark.skipif(os.name == "nt", reason="there are no pseudo-terminals")
def test_at_a_terminal_keys_begin_skip_and_end_and_q_ends_only_the_maneuver(home: Path) -> None:
    from tests.rehearsal.test_run import at_terminal

    # Nothing begins by itself in a pause of 10 min, however slow the machine.
    command = (sys.executable, "-m", "coach", "warmup", script(home, pause="10 min"),
               "--support", "start", "--bed", "off")  # fmt: skip
    with at_terminal(dict(os.environ), command) as student:
        student.wait_for(b"mine: 3 maneuvers, about ")
        student.wait_for(b"Next: Go-around, in ")
        student.press(b" ")  # a late tap begins nothing
        student.press(b"\r")
        student.wait_for(b"\x1b[?1049h")  # the rehearsal's own screen
        student.press(b"q")
        student.wait_for(b"Next: Power-off stall, in ")
        student.press(b"s")
        student.wait_for(b"Next: Steep turn at 45 degrees, in ")
        student.press(b"q")
        student.wait_for(b"0 of 3 flown; go on with:\r\ncoach warmup ")
        student.wait_for(b" --from steep-turn-45\r\n")
        assert student.coach.wait(60) == 0
        assert student.seen.count(b"\x1b[?1049h") == 1


@pytest.mark.skipif(os.name == "nt", reason="there are no pseudo-terminals")
def test_at_a_terminal_ctrl_c_ends_all_of_it(home: Path) -> None:
    from tests.rehearsal.test_run import at_terminal

    command = (sys.executable, "-m", "coach", "warmup", script(home, pause="0 s"),
               "--support", "start", "--bed", "off")  # fmt: skip
    with at_terminal(dict(os.environ), command) as student:
        student.wait_for(b"\x1b[?1049h")
        student.press(b"\x03")
        student.wait_for(b" --from go-around\r\n")
        assert student.coach.wait(60) == 0
        assert b"Power-off stall" not in student.seen


def test_a_library_recorded_at_an_altitude_has_its_landings_too(home: Path) -> None:
    settings = change(USUAL, ["support=start", *(f"{part}=off" for part in LEVELS)])
    day = Day(altitude="4500")
    (one,) = record_all(home, ["go-around"], "meadow-four", day, settings, ending=".wav")
    assert one.made, one.note
