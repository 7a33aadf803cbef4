"""Which way the sound goes: PortAudio, else miniaudio, else captions on time and no sound."""

from __future__ import annotations

import os
from functools import partial
from importlib import import_module
from types import ModuleType

from coach.callouts.sheet import LEAD_IN_S
from coach.problems import Problem, nearest
from coach.sound.backends import Device, Fill, Output, silent
from coach.sound.feed import Source
from coach.sound.player import Player
from coach.sound.soundtrack import silence
from coach.sound.timekeeper import MACHINE, Timekeeper

SILENT = "silent"
NAMED_AWAY_S = 10.0
"""How long a device that was asked for by name is waited for before the usual one stands in."""

_NO_DEVICE = "No sound device: captions only; connect headphones and start again."


def outputs() -> list[Output]:
    """Where sound can go, the preferred ways first; ``"silent"`` is always the last."""
    found: dict[str, Output] = {}
    for backend in _backends():
        for output in backend.outputs():
            found.setdefault(output.name, output)
    usual = next((output.name for output in found.values() if output.usual), SILENT)
    return [
        *(
            Output(output.name, output.backend, output.name == usual, output.latency_s)
            for output in found.values()
        ),
        Output(SILENT, "captions only", usual == SILENT, None),
    ]


def open_player(
    soundtrack: Source, output: str | None = None, timekeeper: Timekeeper = MACHINE
) -> Player:
    """A player ready to start.

    Args:
        soundtrack: what to play.
        output: a name from :func:`outputs`; ``"silent"`` for captions only; None is what the
            environment variable ``COACH_OUTPUT`` names, else the usual device, else silence with
            a note that says so.
        timekeeper: whose time it is played in; a loudspeaker plays in the machine's.

    Raises:
        Problem: there is no such device, or it cannot be opened.
    """
    wanted = output or os.environ.get("COACH_OUTPUT") or None
    player = Player(soundtrack, partial(_find_again, wanted), timekeeper=timekeeper)
    if wanted == SILENT:
        player.attach(silent.open_device(player.fill, timekeeper))
    elif wanted is not None:
        player.attach(_named(wanted, player.fill))
    elif device := _usual(player.fill):
        player.attach(device)
    else:
        player.note = _NO_DEVICE
        player.attach(silent.open_device(player.fill, timekeeper))
    return player


def playing(output: str | None = None) -> Player:
    """A player that plays how every rehearsal begins, `LEAD_IN_S` of silence, and stands there.

    So its device is awake by the time it is told of more.

    Raises:
        Problem: as for `open_player`.
    """
    player = open_player(silence(LEAD_IN_S), output)
    player.start()
    return player


def _usual(fill: Fill) -> Device | None:
    for backend in _backends():
        try:
            device: Device = backend.open_device(fill, None)
            return device
        except backend.Refused:
            continue
    return None


def _named(name: str, fill: Fill) -> Device:
    for backend in _backends():
        if name in [output.name for output in backend.outputs()]:
            try:
                device: Device = backend.open_device(fill, name)
                return device
            except backend.Refused as error:
                raise Problem(
                    f"The sound device {name} cannot be opened ({error})"
                    f"{nearest('', [output.name for output in outputs()])}"
                ) from error
    known = [output.name for output in outputs()]
    raise Problem(f"There is no sound device called {name}{nearest(name, known)}")


def _find_again(wanted: str | None, fill: Fill, missed_s: float) -> Device | None:
    if wanted is not None:
        try:
            return _named(wanted, fill)
        except Problem:
            if missed_s < NAMED_AWAY_S:
                return None
    return _usual(fill)


def _backends() -> list[ModuleType]:
    found = []
    for name in ("portaudio", "miniaudio"):
        try:
            found.append(import_module(f"coach.sound.backends.{name}"))
        except (OSError, ImportError):  # PortAudio is a system library, and may be absent
            continue
    return found
