"""What the page's parts know of each other."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import coach.page

PAGE = Path(coach.page.__file__).parent


def imported(part: str) -> Iterator[str]:
    for file in (PAGE / part).glob("*.py"):
        for one in ast.walk(ast.parse(file.read_text())):
            if isinstance(one, ast.ImportFrom) and one.module is not None:
                yield from (f"{one.module}.{name.name}" for name in one.names)
            elif isinstance(one, ast.Import):
                yield from (name.name for name in one.names)


@pytest.mark.parametrize(
    ("part", "others"), [("server", ("alone", "room", "app")), ("alone", ("room", "app"))]
)
def test_who_may_connect_knows_no_room_and_a_student_alone_none_either(
    part: str, others: tuple[str, ...]
) -> None:
    known = tuple(f"coach.page.{other}" for other in others)
    assert not [name for name in imported(part) if name.startswith(known)]
