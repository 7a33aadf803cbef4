"""What the tests of what is heard have in common."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from coach.sound.feed import Source
from coach.sound.player import Player

from .crank import Cranked, HandCranked, Room


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
