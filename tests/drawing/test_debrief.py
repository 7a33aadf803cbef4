"""Promises of the debrief's picture."""

from __future__ import annotations

import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from pathlib import Path

import matplotlib.image
import numpy as np
import pytest

from coach.debrief.debrief import debrief
from coach.drawing.debrief import draw
from coach.logbook.run import Run
from coach.problems import Problem
from coach.taps.tap import Tap
from tests.debrief import students
from tests.debrief.students import RUN, flown
from tests.drawing.test_hand import by_hand

RUNS = {
    "finished": flown(students.late_at_90(1)[:-1]),
    "stopped": replace(
        RUN, ended="stopped", reached_s=50.0, taps=tuple(map(Tap, (10.4, 16.9, 40.0)))
    ),
    "silent": flown([]),
    "without a trace": replace(flown(students.rusher(1)), trace={}),
    "with a hand": by_hand(),
    "with a hand and no trace": replace(by_hand(), trace={}),
    "without anything": replace(RUN, moments=(), trace={}),
}


@pytest.mark.parametrize("run", RUNS.values(), ids=RUNS)
def test_every_run_has_a_picture_and_it_is_grey(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "run.png"
    draw(debrief(run), path)
    pixels = matplotlib.image.imread(path)[..., :3]
    assert pixels.shape[0] > 900 and pixels.shape[1] > 1300
    # Nothing is told by a colour: red, green and blue are the same everywhere.
    assert np.ptp(pixels, axis=2).max() == 0
    assert [entry.name for entry in tmp_path.iterdir()] == ["run.png"]


def test_an_svg_is_well_formed(tmp_path: Path) -> None:
    draw(debrief(RUNS["finished"]), tmp_path / "run.SVG")
    assert ElementTree.parse(tmp_path / "run.SVG").getroot().tag.endswith("svg")


@pytest.mark.parametrize("name", ["$x^{$", "$\\frac$", "\U0001f469 \u5b57", "100 % \\n {0}"])
@pytest.mark.parametrize("ending", ["png", "svg"])
def test_a_name_is_written_as_it_is_without_a_word(
    tmp_path: Path, name: str, ending: str, recwarn: pytest.WarningsRecorder
) -> None:
    moments = tuple(replace(moment, name=name) for moment in RUN.moments)
    run = replace(RUN, moments=moments, title=name, airplane=name, support=name, student=name)
    draw(debrief(run), tmp_path / f"run.{ending}")
    assert not recwarn.list


def test_another_ending_or_an_unwritable_place_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(Problem, match=r"must end in \.png or \.svg"):
        draw(debrief(RUN), tmp_path / "run.jpeg")
    with pytest.raises(Problem, match="cannot be written"):
        draw(debrief(RUN), tmp_path / "nowhere" / "run.png")
    assert list(tmp_path.iterdir()) == []


def test_a_debrief_without_a_picture_does_not_wait_for_the_drawing_library() -> None:
    code = "import sys, coach.drawing.debrief, coach.drawing.report, coach.debrief.words; print('matplotlib' in sys.modules)"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "False"
