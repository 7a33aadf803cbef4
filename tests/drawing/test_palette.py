"""Promises of the palette: a colour is changed in one line."""

from __future__ import annotations

import re
from pathlib import Path

from coach.drawing import palette

DRAWING = Path(palette.__file__).parent


def test_no_picture_has_a_colour_or_a_grey_of_its_own() -> None:
    own = re.compile(r"#[0-9a-fA-F]{3,8}\b|\"(?:white|black|gr[ae]y|C\d|tab:\w+)\"|\"0?\.\d+\"")
    found = {
        path.name: own.findall(path.read_text("utf-8"))
        for path in DRAWING.glob("*.py")
        if path.name != "palette.py"
    }
    assert not any(found.values()), found
