"""A small attack at a class's door; ``python -m tests.attack.door`` is the whole of it."""

from __future__ import annotations

import random

from tests.attack.door import Found, at_the_door


def test_no_name_token_or_flood_gets_past_the_door() -> None:
    found = Found()
    at_the_door(random.Random(12), 10, found)
    assert found.tried.total() > 500
    assert not found.failed, found
