"""Finding a script by its name: the student's own folder first, then what comes with the coach."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from typing import TYPE_CHECKING

import yaml

from coach.problems import Problem, nearest
from coach.shelf import data_folder, found, shipped
from coach.words import shown

if TYPE_CHECKING:
    from coach.script.maneuver import Maneuver
    from coach.script.standards import Checkride, Standard


def folders(kind: str) -> list[Path]:
    """Where scripts of a kind are looked for, first place first.

    Args:
        kind: ``"maneuvers"``, ``"airplanes"`` or ``"warmups"``.
    """
    return [data_folder() / "scripts" / kind, shipped("scripts") / kind]


def names(kind: str) -> list[str]:
    """The names of every script of a kind, in alphabetical order."""
    # Not those that begin with a dot: some systems put such a file beside each one they copy.
    return sorted({path.stem for folder in folders(kind) for path in found(folder, "[!.]*.yaml")})


def syllabus(checkride: Checkride | None = None) -> list[str]:
    """The names of the maneuvers to be learned, in the order in which they are begun.

    Args:
        checkride: for those alone that may be asked there; None for all. A student's own maneuvers
            are in none.
    """
    order: list[str] = yaml.safe_load(
        (shipped("scripts") / "syllabus.yaml").read_text(encoding="utf-8")
    )
    if checkride is None:
        return order
    asked = {name: [one.checkride for one in standards(name)] for name in order}
    return [name for name in order if checkride in asked[name]]


def is_file_name(name: str) -> bool:
    """Whether a name means a file, and not a script of the library."""
    return name.endswith((".yaml", ".yml")) or "/" in name or "\\" in name


def find(kind: str, name: str) -> Path:
    """The file of a script, by its name or by the path of a file.

    Raises:
        Problem: there is no such script, and the nearest names are offered; or its name cannot be
            shown.
    """
    if is_file_name(name):
        return Path(name)
    if not name.isprintable():  # nor would a list with it be, or a run of it
        raise Problem(
            f"'{shown(name)}' cannot be the name of a {kind[:-1]}: give its file another one."
        )
    for called in (name, "-".join(name.lower().split())):  # "Lazy eight" is lazy-eight
        for folder in folders(kind):
            path = folder / f"{called}.yaml"
            if os.path.lexists(path):  # whether it can be read, its reader says
                return path
    raise Problem(f"There is no {kind[:-1]} '{name}'{nearest(name, names(kind))}")


def maneuver(name: str) -> Maneuver:
    """A maneuver of the library, or of a file.

    Raises:
        Problem: there is none, or its script has a fault.
    """
    # Imported here: whoever looks for names alone need not wait for what reads a script.
    from coach.script.faults import faults
    from coach.script.maneuver import Maneuver
    from coach.script.reading import read

    return read(find("maneuvers", name), Maneuver, faults)


def standards(name: str, checkride: Checkride | None = None) -> tuple[Standard, ...]:
    """What a maneuver of the library is judged by, as `coach.script.standards.asked_at` has it.

    None where its script is gone or has a fault: what was flown can be looked at all the same.
    """
    from coach.script.standards import asked_at

    with contextlib.suppress(Problem):
        if name in names("maneuvers"):  # a run from elsewhere may be called like a file
            return asked_at(maneuver(name).standard, checkride)
    return ()
