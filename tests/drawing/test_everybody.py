"""Everybody's picture: whose dot is whose is told only where names are."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from pathlib import Path

from coach.drawing.everybody import draw
from coach.hand.motion import Motion
from coach.logbook.run import Run
from tests.debrief.students import PLANNED, RUN, TAPPING, flown
from tests.hand.simulated import Simulated

PLAN = Motion(tuple(RUN.trace["t_s"]), tuple(RUN.trace["pitch_deg"]), tuple(RUN.trace["bank_deg"]))


def test_without_names_nobody_can_tell_from_the_order_of_the_dots_whose_they_are(
    tmp_path: Path,
) -> None:
    room = [replace(flown(taps(1)), student=name) for name, taps in TAPPING.items()]
    same = replace(room[0], student="two who tap alike")
    path = tmp_path / "picture.svg"
    drawn: dict[bool, set[bytes]] = {True: set(), False: set()}
    for seed in range(3):  # they come in any order
        came = random.Random(seed).sample([*room, same], k=len(room) + 1)
        for names, pictures in drawn.items():
            draw(came, path, names=names)
            pictures.add(path.read_bytes())
    assert len(drawn[False]) == 1
    assert len(drawn[True]) == 3


def test_nobody_has_the_same_place_at_every_checkpoint(tmp_path: Path) -> None:
    early, late = (flown([at + error_s for at in PLANNED]) for error_s in (-0.1, 0.1))
    path = tmp_path / "picture.svg"
    draw([early, late], path, names=False)
    dots = re.findall(r'<use [^>]*x="([\d.]+)" y="([\d.]+)" style="fill: #1f4e79', path.read_text())
    pairs = zip(dots[::2], dots[1::2], strict=True)
    left_is_early = [float(left[1]) > float(right[1]) for left, right in pairs]
    assert left_is_early == [at % 2 == 0 for at in range(len(PLANNED))]


def test_without_names_nobody_can_tell_from_the_order_of_the_lines_whose_hand_is_whose(
    tmp_path: Path,
) -> None:
    room = [
        replace(RUN, student=f"Student {seed}", motion=Simulated(PLAN, seed).motion())
        for seed in range(4)
    ]
    path = tmp_path / "picture.svg"
    drawn: dict[bool, set[bytes]] = {True: set(), False: set()}
    for seed in range(3):
        came = random.Random(seed).sample(room, k=len(room))
        for names, pictures in drawn.items():
            draw(came, path, names=names)
            pictures.add(path.read_bytes())
    assert len(drawn[False]) == 1
    assert len(drawn[True]) == 3


def test_a_hand_is_drawn_where_it_was_seen_and_taps_only_where_somebody_tapped(
    tmp_path: Path,
) -> None:
    whole = replace(RUN, motion=Simulated(PLAN).motion())
    away = replace(RUN, motion=Simulated(PLAN, gaps=((0.0, 60.0),)).motion())
    tapped = replace(away, taps=flown(PLANNED).taps)

    def drawing(*runs: Run) -> str:
        draw(runs, tmp_path / "picture.svg", names=False)
        return (tmp_path / "picture.svg").read_text()

    assert len(drawing(away)) < len(drawing(whole))
    assert "bank" in drawing(whole) and "seconds early" not in drawing(whole)
    assert "bank" in drawing(tapped) and "seconds early" in drawing(tapped)
    assert "bank" not in drawing(flown(PLANNED))
