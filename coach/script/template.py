"""Beginning a script of one's own from a template."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Literal

from coach.problems import Problem, writing
from coach.script import catalog
from coach.shelf import made, shipped

Kind = Literal["maneuver", "airplane"]
"""The kinds of script somebody writes, each named by its first key."""


def begin(kind: Kind, name: str) -> Path:
    """A new script from the template of its kind, named after its file.

    Args:
        kind: of script.
        name: a file, or a bare name, which goes where the library looks for one's own.

    Returns:
        The file written.

    Raises:
        Problem: the name holds no letter and no digit, there is such a file already, or it cannot
            be written.
    """
    own = catalog.folders(f"{kind}s")[0]
    path = Path(name) if catalog.is_file_name(name) else own / f"{name}.yaml"
    if path.stem.startswith(".") or not re.search(r"[^\W_]", path.stem) or not name.isprintable():
        raise Problem(f"Found the name '{name}', expected one such as my-{kind}.")
    template = (shipped("scripts") / "new" / f"{kind}.yaml").read_text(encoding="utf-8")
    called = re.sub(r"[^a-z0-9]+", "-", path.stem.lower()).strip("-") or f"my-{kind}"
    text = template.replace(f"my-{kind}", called).replace("THIS-FILE", name)
    if path.exists():
        raise Problem(f"{path} is there already, and stays as it is: take another name.")
    with writing(path):
        if path.parent == own:
            made(own)
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    return path
