"""Where scripts, cues and everything the coach keeps lie on this machine."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

_APP = "chair-flying-coach"

AIRPLANE = "meadow-four"
"""The airplane that is flown where none is named."""


def data_folder() -> Path:
    """The student's own folder: logbook, and own scripts. ``COACH_HOME`` moves it."""
    home = os.environ.get("COACH_HOME")
    return Path(home) if home else Path(platformdirs.user_data_dir(_APP, appauthor=False))


def cache_folder() -> Path:
    """What can be made again: synthesised phrases. ``COACH_HOME`` moves it too."""
    home = os.environ.get("COACH_HOME")
    return (
        Path(home) / "cache" if home else Path(platformdirs.user_cache_dir(_APP, appauthor=False))
    )


def shipped(name: str) -> Path:
    """A folder that comes with the coach: ``"scripts"`` or ``"audio_cues"``.

    An installed coach has it beside its code, a checkout at the top of the repository.
    """
    beside = Path(__file__).parent / "_shipped" / name
    return beside if beside.is_dir() else Path(__file__).parent.parent / name
