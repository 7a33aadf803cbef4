"""Served rooms and a served page without a room."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Playwright

from tests.page.browsing import chromium, driver
from tests.page.people import Served, served


@pytest.fixture
def blue(home: Path) -> Iterator[Served]:
    """A room of the test's own, whose logbook knows nobody."""
    with served(home, "Blue") as server:
        yield server


@pytest.fixture(scope="module")
def open_room(new_home: Callable[[], Path]) -> Iterator[Served]:
    """A room for all of a file's tests, which leave it as it was, and with a logbook of its own."""
    with served(new_home(), "Open") as server:
        yield server


@pytest.fixture(scope="module")
def alone(new_home: Callable[[], Path]) -> Iterator[Served]:
    """The page without a room, and with a logbook of its own."""
    with served(new_home()) as server:
        yield server


@pytest.fixture(scope="module")
def playwright() -> Iterator[Playwright]:
    """What drives browsers; ended after each file, for no other may run beside asyncio."""
    with driver() as one:
        yield one


@pytest.fixture(scope="module")
def browser(playwright: Playwright) -> Iterator[Browser]:
    """A browser whose sound nobody hears."""
    with chromium(playwright) as one:
        yield one
