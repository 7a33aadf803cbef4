"""Everybody's picture: whose dot is whose is told only where names are."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from pathlib import Path

from coach.drawing.everybody import draw
from tests.debrief.students import PLANNED, TAPPING, flown


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
