"""Nothing that lies in the current folder changes what the coach does."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
import threading
from importlib.util import find_spec
from pathlib import Path

import pytest

import coach
from coach.shelf import PLACE, away, program

ALIKE = (
    *("json", "wave", "struct", "socket", "pickle", "tempfile", "runpy", "multiprocessing"),
    *("numpy", "matplotlib", "soundfile", "scipy", "yaml", "click", "starlette", "coach"),
    *("sitecustomize", "usercustomize"),
)
"""What Python's own modules and the libraries are called."""

COACH = """\
from coach.__main__ import main
if __name__ == "__main__":
    main()
"""
"""As the command ``coach`` begins, which lies in a folder of its own."""

SCRIPT = """\
maneuver: {0}
title: {0}
entry: {{speed: [cruise], height: 3000 ft, power: as needed}}
legs:
  - {{name: straight and level, time: 4 s, altitude: entry, speed: entry, power: as needed}}
checkpoints:
  - {{name: over, ends: straight and level}}
callouts:
  - {{at: {{checkpoint: over}}, say: ["{{name}}."]}}
"""

RECORDED = """\
from pathlib import Path
from coach.flight.day import Day
from coach.rehearsal.recording import record_all
from coach.settings import USUAL, change
from coach.sound.bed import LEVELS
if __name__ == "__main__":
    folder, kite = {!r}
    quiet = change(USUAL, ["support=checkpoints", *(f"{{part}}=off" for part in LEVELS)])
    record_all(Path(folder), ["first", "second"], kite, Day(), quiet)
"""

HEARD = """\
import json, subprocess
from coach.shelf import PLACE, program
if __name__ == "__main__":
    with subprocess.Popen(
        program("coach.ears.worker"), cwd=PLACE, stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as worker:
        worker.stdin.write(b'{"weights": ""}\\n')
        worker.stdin.close()
        print([*json.loads(worker.stdout.readline())])
"""

DRAWN = """\
from coach.drawing.worker import Draughtsman, Order
if __name__ == "__main__":
    from coach.debrief.debrief import debrief
    from coach.logbook.run import Run
    one = Draughtsman()
    try:
        one.draw(Order("everybody", []))
    except Exception as error:
        print(type(error).__name__)
    one.close()
"""


@pytest.fixture
def hostile(tmp_path: Path) -> Path:
    """A folder whose files note that they were imported."""
    folder = tmp_path / "hostile"
    folder.mkdir()
    for name in ALIKE:
        (folder / f"{name}.py").write_text(
            f"import os; os.close(os.open(os.path.join({str(tmp_path)!r}, "
            f"'imported-{name}'), os.O_CREAT))\n"
        )
    return folder


def called(hostile: Path, code: str, *words: str) -> subprocess.CompletedProcess[str]:
    """What a program in a folder of its own does when it is called in that one."""
    command = hostile.parent / "bin" / "coach"
    command.parent.mkdir(exist_ok=True)
    command.write_text(code)
    places = [str(Path(coach.__file__).parents[1]), os.environ.get("PYTHONPATH", "")]
    return subprocess.run(
        [sys.executable, str(command), *words],
        cwd=hostile,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, places))},
        capture_output=True,
        text=True,
        timeout=120,
    )


def taken_from(hostile: Path) -> list[str]:
    return sorted(one.name for one in hostile.parent.glob("imported-*"))


def test_the_command_draws_a_brief_in_a_folder_of_files_called_like_modules(hostile: Path) -> None:
    done = called(hostile, COACH, "brief", "lazy-eight", "--picture", "brief.svg")
    assert (done.returncode, done.stderr) == (0, "Wrote brief.svg.\n")
    assert (hostile / "brief.svg").exists()
    assert taken_from(hostile) == []


def test_a_library_is_recorded_there_by_several_processes(hostile: Path, home: Path) -> None:
    for name in ("first", "second"):
        path = home / "scripts" / "maneuvers" / f"{name}.yaml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(SCRIPT.format(name))
    folder = hostile.parent / "recorded"
    kite = str(Path(__file__).parent / "kite.yaml")
    done = called(hostile, RECORDED.format((str(folder), kite)))
    assert done.returncode == 0, done.stderr
    assert taken_from(hostile) == []
    assert len(list(folder.glob("*.mp3"))) == 2, done.stdout


@pytest.mark.parametrize("code", [HEARD, DRAWN], ids=["ears", "drawing"])
def test_whoever_hears_and_draws_is_started_there_as_anywhere(hostile: Path, code: str) -> None:
    if code == HEARD and find_spec("pocketsphinx") is None:
        pytest.skip("The extra “listen” is not installed.")
    done = called(hostile, code)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == ("['ready']" if code == HEARD else "Problem")
    assert taken_from(hostile) == []


def test_another_folder_is_the_current_one_for_as_long_as_it_is_needed(tmp_path: Path) -> None:
    here = Path.cwd()
    with pytest.raises(ZeroDivisionError), away(tmp_path):
        assert Path.cwd() == tmp_path
        raise ZeroDivisionError
    assert Path.cwd() == here


def test_two_threads_that_go_away_come_back_to_where_they_were(tmp_path: Path) -> None:
    here, seen = Path.cwd(), []

    def go(place: Path) -> None:
        for _ in range(50):
            with away(place):
                seen.append(Path.cwd() == place)

    threads = [threading.Thread(target=go, args=(place,)) for place in (tmp_path, PLACE)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert all(seen) and Path.cwd() == here


@pytest.mark.skipif(sys.platform == "win32", reason="A folder in use stays there.")
def test_a_current_folder_that_is_gone_stops_nothing(tmp_path: Path) -> None:
    gone = tmp_path / "gone"
    gone.mkdir()
    code = (
        f"import os; os.chdir({str(gone)!r}); os.rmdir({str(gone)!r})\n"
        "import coach.drawing.plotting, subprocess\n"
        "from coach.shelf import PLACE, program\n"
        "print(subprocess.run(program('json.tool'), cwd=PLACE, input=b'1', capture_output=True))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "returncode=0" in done.stdout and done.stderr == ""


def test_a_program_finds_what_this_one_finds() -> None:
    assert program("json.tool")[3:] == tuple(os.path.join(Path.cwd(), one) for one in sys.path)  # noqa: PTH118


def test_the_drawing_library_is_imported_in_one_place_alone() -> None:
    house = Path(coach.__file__).parent
    found = {
        str(file.relative_to(house))
        for file in house.rglob("*.py")
        for node in ast.walk(ast.parse(file.read_text("utf-8")))
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in [getattr(node, "module", None) or node.names[0].name]
        if name.split(".")[0] == "matplotlib"
    }
    assert found == {"drawing/plotting.py"}
