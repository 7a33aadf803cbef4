"""Where scripts, cues and everything the coach keeps lie on this machine."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import platformdirs

from coach.problems import Problem

_APP = "chair-flying-coach"

AIRPLANE = "meadow-four"
"""The airplane that is flown where none is named."""


def data_folder() -> Path:
    """The student's own folder: logbook, and own scripts. ``COACH_HOME`` moves it."""
    return _own("", platformdirs.user_data_dir)


def cache_folder() -> Path:
    """What can be made again: synthesised phrases. ``COACH_HOME`` moves it too."""
    return _own("cache", platformdirs.user_cache_dir)


def _own(within: str, usual: Callable[..., str]) -> Path:
    if home := os.environ.get("COACH_HOME"):
        return Path(home, within)
    try:
        return Path(usual(_APP, appauthor=False))
    except RuntimeError:  # such as in a container, for a user whom the system does not know
        raise Problem("You have no home folder here: set COACH_HOME to a folder.") from None


def shipped(name: str) -> Path:
    """A folder that comes with the coach: ``"scripts"`` or ``"audio_cues"``.

    An installed coach has it beside its code, a checkout at the top of the repository.
    """
    beside = Path(__file__).parent / "_shipped" / name
    return beside if beside.is_dir() else Path(__file__).parent.parent / name
