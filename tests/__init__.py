"""The tests. What they share says as well what an assertion found."""

import pytest

pytest.register_assert_rewrite(
    *(f"tests.{room}" for room in ("attack", "logbook", "page", "sound", "terminal"))
)
