"""Promises of marks: each is whole, the last checkpoint's too, on every size of paper."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import Any, BinaryIO

import numpy as np
import pytest
from matplotlib.figure import Figure

from coach.debrief.debrief import debrief
from coach.drawing import brief, figure, report_html, report_pdf
from coach.drawing import debrief as debriefs
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.logbook.run import Run
from coach.rehearsal.ready import fly
from coach.taps.tap import Tap
from tests.debrief.students import RUN


@pytest.fixture(scope="module")
def flight() -> Flight:
    return fly("lazy-eight", "meadow-four", Day())


def tapped(flight: Flight, pace: float = 1.0) -> Run:
    """That flight with every checkpoint tapped, the last one late."""
    table = flight.table()
    times = [moment.time_s / pace for moment in flight.moments]
    return replace(
        RUN,
        moments=flight.moments,
        pace=pace,
        trace={name: table[name].tolist() for name in RUN.trace},
        taps=tuple(map(Tap, (*times[:-1], times[-1] + 2.0))),
        reached_s=flight.length_s,
    )


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[Figure]:
    """Every figure that is written."""
    found: list[Figure] = []
    save = figure.save

    def kept(one: Figure, target: BinaryIO, form: str, **metadata: str) -> None:
        save(one, target, form, **metadata)
        found.append(one)

    for module in (figure, report_html, report_pdf):
        monkeypatch.setattr(module, "save", kept)
    return found


def cut_off(paper: Figure) -> list[str]:
    """The marks that are not whole: beyond the paper, or the panel where that cuts them off."""
    paper.draw_without_rendering()
    found = []
    for axes in paper.axes:
        for line in axes.lines:
            marker: Any = line.get_marker()
            if marker in ("None", "", None):
                continue
            half = 0.5 * (line.get_markersize() + line.get_markeredgewidth()) * paper.dpi / 72.0
            sides = np.array([0.0 if marker == "|" else half, half])
            edges = axes.bbox if line.get_clip_on() else paper.bbox
            for place in line.get_transform().transform(np.asarray(line.get_xydata())):
                if (place - sides < edges.min).any() or (place + sides > edges.max).any():
                    found.append(f"{axes.get_ylabel()}: {marker} at {place} of {edges.extents}")
    return found


@pytest.mark.parametrize("upright", [False, True])
def test_every_mark_of_a_brief_is_whole(flight: Flight, upright: bool, drawn: list[Figure]) -> None:
    brief.draw(flight, io.BytesIO(), upright=upright)
    assert cut_off(drawn[0]) == []


@pytest.mark.parametrize("pace", [0.5, 1.0])
@pytest.mark.parametrize("how", ["wide", "upright", "html", "pdf"])
def test_every_mark_of_a_debrief_is_whole(
    flight: Flight, how: str, pace: float, drawn: list[Figure]
) -> None:
    judged = debrief(tapped(flight, pace))
    if how == "html":
        report_html.html(judged)
    elif how == "pdf":
        report_pdf.write(judged, io.BytesIO())
    else:
        debriefs.draw(judged, io.BytesIO(), upright=how == "upright")
    assert cut_off(drawn[0]) == []
