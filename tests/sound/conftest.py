"""What the tests of what is heard have in common."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest

from coach.sound.feed import Source
from coach.sound.player import Player
from coach.sound.timekeeper import Timekeeper

from .crank import Cranked, HandCranked, Room, Standing
from .hurried import Hurried


@pytest.fixture
def room() -> Room:
    """Where devices are looked for."""
    return Room()


@pytest.fixture
def cranked(room: Room) -> Iterator[Cranked]:
    """Begins to play a source on a device that the test cranks, in a time that it moves on."""
    with _begins(room, Hurried) as begun:
        yield begun


@pytest.fixture
def cranked_beside(room: Room) -> Iterator[Cranked]:
    """The same where others render and watch meanwhile, in threads of their own."""
    with _begins(room, Standing) as begun:
        yield begun


@contextmanager
def _begins(room: Room, time: Callable[[], Timekeeper]) -> Iterator[Cranked]:
    players = []

    def begun(source: Source) -> Player:
        player = Player(source, room, timekeeper=time())
        player.attach(HandCranked())
        player.start()
        players.append(player)
        return player

    try:
        yield begun
    finally:
        for player in players:
            player.stop()
