"""What the tests of what is heard have in common."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from coach.sound.feed import Source
from coach.sound.player import Player

from .crank import Cranked, HandCranked, Room


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """No test reads or writes the student's own folder."""
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture
def room() -> Room:
    """Where devices are looked for."""
    return Room()


@pytest.fixture
def cranked(room: Room) -> Iterator[Cranked]:
    """Begins to play a source on a device that the test cranks."""
    players = []

    def begun(source: Source) -> Player:
        player = Player(source, room)
        player.attach(HandCranked())
        player.start()
        players.append(player)
        return player

    yield begun
    for player in players:
        player.stop()
