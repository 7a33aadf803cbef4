"""Served rooms and a served page without a room."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Playwright

from tests.page.browsing import chromium, driver
from tests.page.people import Served, served

_numbers = itertools.count(1)


@pytest.fixture(scope="session")
def spoken_home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder for all servers of these tests: what was spoken once need not be again."""
    return tmp_path_factory.mktemp("home")


@pytest.fixture
def blue(spoken_home: Path) -> Iterator[Served]:
    """A room of the test's own."""
    with served(spoken_home, f"Blue {next(_numbers)}") as server:
        yield server


@pytest.fixture(scope="module")
def open_room(spoken_home: Path) -> Iterator[Served]:
    """A room for all of a file's tests, which leave it as it was."""
    with served(spoken_home, f"Open {next(_numbers)}") as server:
        yield server


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The page without a room, and with a logbook of its own."""
    with served(tmp_path_factory.mktemp("alone")) as server:
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


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A student's own folder."""
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    return tmp_path
