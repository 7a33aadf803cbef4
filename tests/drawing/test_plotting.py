"""Whatever settings of the drawing library lie about, every picture stays as it is."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from coach.debrief.debrief import debrief
from coach.drawing.debrief import draw
from coach.drawing.report import report
from tests.debrief import students
from tests.debrief.students import flown

DRAW = """
import sys
from pathlib import Path
sys.path.insert(0, {repository!r})
from coach.debrief.debrief import debrief
from coach.drawing.debrief import draw
from coach.drawing.report import report
from tests.debrief import students
from tests.debrief.students import flown
judged = debrief(flown(students.late_at_90(1)[:-1]))
for name in ("run.svg", "run.png"):
    draw(judged, Path({folder!r}, name))
for name in ("run.pdf", "run.html"):
    report(judged, Path({folder!r}, name))
"""

SETTINGS = {
    "names that nobody knows": b"nonsense: 3\nno colon\nfont.size: large as a house\n",
    "other letters and colours": (
        b"font.size: 30\nfont.family: serif\naxes.facecolor: red\nlines.linewidth: 9\n"
        b"svg.fonttype: none\nsavefig.dpi: 30\naxes.prop_cycle: cycler('color', ['ff0000'])\n"
        b"figure.constrained_layout.use: False\npdf.compression: 0\naxes.formatter.use_locale: True\n"
    ),
    "no text": b"font.size: 30\n\xff\xfe\x00\n",
    "a program and a module": (
        b"text.usetex: True\nbackend: module://evil\nanimation.convert_path: ./evil\n"
        b"ps.usedistiller: xpdf\n"
    ),
}


@pytest.fixture(scope="module")
def usual(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """The pictures as they are."""
    folder = tmp_path_factory.mktemp("usual")
    judged = debrief(flown(students.late_at_90(1)[:-1]))
    for name in ("run.svg", "run.png"):
        draw(judged, folder / name)
    for name in ("run.pdf", "run.html"):
        report(judged, folder / name)
    return {one.name: one.read_bytes() for one in folder.iterdir()}


@pytest.mark.parametrize(
    ("settings", "where"),
    [
        ("names that nobody knows", "the student's own"),
        ("other letters and colours", "here"),
        ("other letters and colours", "the student's own"),
        ("no text", "here"),
        ("a program and a module", "here"),
    ],
)
def test_settings_change_no_byte_and_nothing_is_said_of_them(
    settings: str, where: str, usual: dict[str, bytes], tmp_path: Path
) -> None:
    here, own, drawn = (tmp_path / name for name in ("here", "own", "drawn"))
    for folder in (here, own / "matplotlib", drawn):
        folder.mkdir(parents=True)
    lies = here if where == "here" else own / "matplotlib"
    (lies / "matplotlibrc").write_bytes(SETTINGS[settings])
    (here / "evil.py").write_text(f"open({str(tmp_path / 'ran')!r}, 'w')")
    program = here / "evil"
    program.write_text(f"#!/bin/sh\ntouch {tmp_path / 'ran'}\n")
    program.chmod(0o755)
    code = DRAW.format(repository=str(Path(__file__).parents[2]), folder=str(drawn))
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code],
        cwd=here,
        env={**os.environ, "XDG_CONFIG_HOME": str(own), "PATH": f"{here}:{os.environ['PATH']}"},
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert (done.returncode, done.stdout + done.stderr) == (0, "")
    assert {one.name: one.read_bytes() for one in drawn.iterdir()} == usual
    assert not (tmp_path / "ran").exists()


IN_NO_TIME = """
import threading
at_once = lambda _, say: say() or waits(60.0, print)
waits, threading.Timer = threading.Timer, at_once
"""
"""Whatever is to be said after a while is said at once."""


def test_where_letters_are_long_sought_and_cannot_be_kept_nothing_is_said_of_it(
    usual: dict[str, bytes], tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("")
    drawn = tmp_path / "drawn"
    drawn.mkdir()
    code = IN_NO_TIME + DRAW.format(repository=str(Path(__file__).parents[2]), folder=str(drawn))
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={
            **{name: value for name, value in os.environ.items() if name != "MPLCONFIGDIR"},
            "XDG_CACHE_HOME": str(tmp_path / "file"),
        },
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert (done.returncode, done.stdout + done.stderr) == (0, "")
    assert {one.name: one.read_bytes() for one in drawn.iterdir()} == usual
