"""The rooms stand in an order, and each knows only those before it."""

from __future__ import annotations

import ast
import graphlib
from collections.abc import Iterator
from pathlib import Path

import pytest

import coach

HOUSE = Path(coach.__file__).parent

ORDER = (
    *(
        "problems",
        "words",
        "tables",
        "shelf",
        "script",
        "flight",
        "callouts",
        "sound",
        "settings",
        "taps",
    ),
    *(
        "ears",
        "hand",
        "logbook",
        "debrief",
        "brief",
        "drawing",
        "practice",
        "rehearsal",
        "terminal",
    ),
    *("page/server", "page/hand", "page/alone", "page/room", "page/app", "commands", "__main__"),
)
"""From the room that knows nothing of any other to the one that may know all."""


def room_of(module: str) -> str:
    """``"flight"`` of ``"coach.flight.plan"``, ``"page/server"`` of ``"coach.page.server.clocks"``."""
    parts = module.split(".")[1:]
    return "/".join(parts[:2] if parts[0] == "page" else parts[:1])


def imported(file: Path) -> Iterator[str]:
    """The modules of the coach that a file imports, wherever in it."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "coach":
            deeper = node.module in ("coach", "coach.page")
            names = [f"{node.module}.{alias.name}" for alias in node.names]
            yield from names if deeper else [str(node.module)]


def modules() -> dict[str, Path]:
    """Every module of the coach but the packages' faces, by its name."""
    files = (file for file in HOUSE.rglob("*.py") if file.name != "__init__.py")
    return {
        ".".join(("coach", *file.relative_to(HOUSE).with_suffix("").parts)): file for file in files
    }


def test_every_module_lies_in_a_room_of_the_house() -> None:
    assert {room_of(module) for module in modules()} == set(ORDER)


@pytest.mark.parametrize("room", ORDER)
def test_a_room_knows_only_the_rooms_before_it(room: str) -> None:
    before = ORDER[: ORDER.index(room) + 1]
    upward = {
        f"{module} imports {name}"
        for module, file in modules().items()
        if room_of(module) == room
        for name in imported(file)
        if name != "coach.__version__" and room_of(name) not in before
    }
    assert not upward


def test_no_modules_import_each_other_in_a_circle() -> None:
    known = modules()
    graphlib.TopologicalSorter(
        {
            module: [name for name in imported(file) if name in known]
            for module, file in known.items()
        }
    ).prepare()
