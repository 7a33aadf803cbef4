"""Which way the sound goes: PortAudio, else miniaudio, else captions on time and no sound."""

from __future__ import annotations

import os
from importlib import import_module
from types import ModuleType

from coach.problems import Problem, nearest
from coach.sound.backends import silent
from coach.sound.player import Player
from coach.sound.soundtrack import Soundtrack

SILENT = "silent"
_NO_DEVICE = "No sound device: captions only; connect headphones and start again."


def outputs() -> list[str]:
    """The names of the sound devices; ``"silent"`` is always a choice beside them."""
    for backend in _backends():
        if found := backend.names():
            return list(found)
    return []


def open_player(soundtrack: Soundtrack, output: str | None = None) -> Player:
    """A player ready to start.

    Args:
        soundtrack: what to play.
        output: a name from :func:`outputs`; ``"silent"`` for captions only; None is what the
            environment variable ``COACH_OUTPUT`` names, else the usual device, else silence with
            a note that says so.

    Raises:
        Problem: there is no such device, or it cannot be opened.
    """
    player = Player(soundtrack)
    wanted = output or os.environ.get("COACH_OUTPUT") or None
    if wanted == SILENT:
        player.attach(silent.open_device(player.fill))
        return player
    if wanted is not None:
        _attach_named(player, wanted)
        return player
    for backend in _backends():
        try:
            player.attach(backend.open_device(player.fill, None))
            return player
        except backend.Refused:
            continue
    player.note = _NO_DEVICE
    player.attach(silent.open_device(player.fill))
    return player


def _attach_named(player: Player, name: str) -> None:
    for backend in _backends():
        if name in backend.names():
            try:
                player.attach(backend.open_device(player.fill, name))
                return
            except backend.Refused as error:
                raise Problem(
                    f"The sound device {name} cannot be opened ({error}){nearest('', outputs())}"
                ) from error
    raise Problem(f"There is no sound device called {name}{nearest(name, [*outputs(), SILENT])}")


def _backends() -> list[ModuleType]:
    found = []
    for name in ("portaudio", "miniaudio"):
        try:
            found.append(import_module(f"coach.sound.backends.{name}"))
        except (OSError, ImportError):  # PortAudio is a system library, and may be absent
            continue
    return found
