"""A script of one's own that cannot be used takes no other down, whatever is asked of the coach."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from coach.commands.cli import main
from coach.flight.day import Day
from coach.page.alone import api
from coach.practice.lengths import lengths_s
from coach.rehearsal import ready, warmup
from coach.rehearsal.check import check
from coach.rehearsal.recording import record_all
from coach.script.catalog import names
from coach.script.warmup import load as warmup_of
from coach.settings import USUAL
from tests.script.spoiled import lay


@pytest.fixture
def own(home: Path) -> list[str]:
    """The names of the student's own maneuvers, none of which can be used."""
    return [path.stem for path in lay(home).iterdir()]


def coach(*words: str) -> Result:
    """A command, on a terminal that takes colors."""
    result = CliRunner().invoke(main, words, color=True)
    assert result.exception is None or isinstance(result.exception, SystemExit)
    assert all(line.isprintable() for line in result.output.splitlines())
    return result


def test_the_library_lists_every_other_and_says_what_is_wrong_with_it(own: list[str]) -> None:
    listed = coach("library")
    assert listed.exit_code == 0
    lines = listed.output.splitlines()
    shown = [name.replace("\x1b", "\ufffd").replace("\udcff", "\ufffd") for name in own]
    assert sum("cannot be used: " in line for line in lines) == len(shown)
    for name in shown:
        assert any(f"  {name} " in line and "cannot be used: " in line for line in lines)
    assert "Lazy eight" in listed.output
    assert "commercial-morning" in listed.output


def test_several_are_checked_each_by_itself(own: list[str]) -> None:
    checked = coach("check", *own, "s-turns")
    assert checked.exit_code == 1
    lines = checked.output.splitlines()
    assert len(lines) == len(own) + 1
    assert lines[-1] == "s-turns: a maneuver, fit to fly"


def test_the_page_offers_every_other(own: list[str]) -> None:
    offered = {one["name"] for one in api._library()["maneuvers"]}
    assert offered == set(names("maneuvers")) - set(own)


def test_all_are_recorded_but_those_that_cannot_be(own: list[str], tmp_path: Path) -> None:
    done = record_all(tmp_path, own, "meadow-four", Day(), USUAL)
    assert sorted(one.maneuver for one in done) == sorted(own)
    assert all(one.problem and not one.made for one in done)


def test_how_long_it_takes_is_known_of_all_the_others(own: list[str], home: Path) -> None:
    (home / "cache").unlink()  # what other tests have flown, and what they fly next, is no matter

    def length_s(maneuver: str) -> float:
        check(maneuver, "meadow-four")
        return 60.0

    assert lengths_s("meadow-four", [*own, "s-turns"], length_s) == {"s-turns": 60.0}


def test_a_warm_up_leaves_them_out(own: list[str], home: Path) -> None:
    (home / "scripts" / "warmups").mkdir()
    own = [name for name in own if name.isprintable()][:11]
    items = "".join(f"  - {{maneuver: {name}}}\n" for name in own)
    text = f"warmup: mine\ntitle: Mine\nmaneuvers:\n{items}  - {{maneuver: s-turns}}\n"
    path = home / "scripts" / "warmups" / "mine.yaml"
    path.write_text(text, encoding="utf-8")
    said = coach("check", "mine").output
    assert "mine: a warm-up, fit to fly" in said
    assert said.count("Left out, ") == len(own)
    path.write_text(text.replace("s-turns", "a-tag"), encoding="utf-8")
    assert coach("check", "mine").exit_code == 1


def test_a_maneuver_that_stands_in_a_warm_up_twice_is_flown_once(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    flown = []
    monkeypatch.setattr(ready, "fly", lambda *given: flown.append(given))
    (home / "mine.yaml").write_text(
        "warmup: mine\ntitle: Mine\nmaneuvers:\n"
        "  - {maneuver: s-turns}\n  - {maneuver: s-turns, pace: 0.8}\n"
        "  - {maneuver: s-turns, direction: left}\n",
        encoding="utf-8",
    )
    parts, _ = warmup.planned(warmup_of(str(home / "mine.yaml")), "meadow-four", Day())
    assert len(parts) == 3
    assert len(flown) == 2


@pytest.mark.parametrize(
    "words",
    [
        ("check", "\x1b]0;title\x07.yaml"),
        ("check", "\x1b[31m"),
        ("brief", "\x1b[2J"),
        ("brief", "lazy-eight", "--wind", "\x1b[31m"),
        ("brief", "lazy-eight", "--airplane", "\x9b31m"),
        ("brief", "lazy-eight", "--loops", "\x1b[31m"),
        ("brief", "--\x1b[31m"),
        ("--\x1b[31m",),
        ("\x1b[31m",),
        ("brief", "lazy-eight", "\x1b[31m"),
        ("rehearse", "lazy-eight", "--support", "\x1b[31m"),
        ("settings", "voice=\x1b[31m"),
        ("settings", "\x1b[31m=1"),
        ("settings", f"rate={'9' * 5000}"),
        ("new", "maneuver", "\x1b[31m/x.yaml"),
        ("new", "maneuver", "a\nb: c"),
        ("debrief", "--picture", "\x1b[31m"),
        ("warmup", "\x1b[31m"),
        ("logbook", "--student", "\x1b[31m"),
    ],
)
def test_a_sentence_that_quotes_what_was_typed_keeps_the_terminal_as_it_is(
    words: tuple[str, ...],
) -> None:
    result = coach(*words)
    assert result.exit_code in (1, 2)


@pytest.mark.skipif(sys.platform != "linux", reason="memory is measured in /proc")
def test_a_small_attack_with_mutated_scripts_finds_nothing() -> None:
    told = subprocess.run(
        [sys.executable, "-m", "tests.attack.scripts", "--seed", "12", "--count", "12"],
        capture_output=True, text=True, timeout=120, check=False,
        cwd=Path(__file__).parents[2],
    )  # fmt: skip
    assert told.returncode == 0, told.stdout + told.stderr
