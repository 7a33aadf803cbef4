"""Where scripts, cues and everything the coach keeps lie on this machine.

Nothing that lies in the current folder, such as a ``wave.py``, rules what is imported or started:
Python looks for modules where it is started, and the drawing library for its settings where it is
imported, so both are done `away` from there.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Callable, Iterator
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


def made(folder: Path) -> Path:
    """A folder of the coach's own, which nobody but this machine's user may look into.

    One that is there already stays as it is.

    Raises:
        OSError: it cannot be made.
    """
    if not folder.is_dir():
        if folder.parent != folder:
            made(folder.parent)
        folder.mkdir(mode=0o700, exist_ok=True)
    return folder


def found(folder: Path, pattern: str) -> list[Path]:
    """What lies in a folder under such names, in order; nothing where it may not be entered."""
    try:
        return sorted(folder.glob(pattern))
    except PermissionError:
        return []


def _own(within: str, usual: Callable[..., str]) -> Path:
    if home := os.environ.get("COACH_HOME"):
        return _whole(Path(home, within))
    try:
        return _whole(Path(usual(_APP, appauthor=False)))
    except RuntimeError:  # such as in a container, for a user whom the system does not know
        raise Problem("You have no home folder here: set COACH_HOME to a folder.") from None


def _whole(path: Path) -> Path:
    """The same place whatever the current folder is by now."""
    if path.is_absolute():
        return path
    if _STARTED_IN is None:
        raise Problem(f"The folder that {path} lies in is gone: set COACH_HOME to a whole path.")
    return _STARTED_IN / path


def _current() -> Path | None:
    """The folder the coach was started in; None where it is gone."""
    try:
        return Path.cwd()
    except OSError:
        return None


_STARTED_IN = _current()


def shipped(name: str) -> Path:
    """A folder that comes with the coach: ``"scripts"`` or ``"audio_cues"``.

    An installed coach has it beside its code, a checkout at the top of the repository.
    """
    beside = Path(__file__).parent / "_shipped" / name
    return beside if beside.is_dir() else Path(__file__).parent.parent / name


PLACE = Path(os.__file__).parent
"""A folder that holds Python's own modules, and nothing but those."""

_RUN = (
    "import sys; sys.path[:] = sys.argv[1:]; del sys.argv[1:]; import runpy; "
    "runpy.run_module({!r}, run_name='__main__', alter_sys=True)"
)
_alone = threading.Lock()


def program(module: str) -> tuple[str, ...]:
    """What starts a module in a process of its own, to be begun in `PLACE`.

    It finds what the coach itself finds, in the same places; ``python -m`` would look first into
    the folder that it is started in.
    """
    here = _way_back()
    places = (os.path.join(here, place) for place in sys.path if here or place)  # noqa: PTH118
    return (sys.executable, "-c", _RUN.format(module), *places)


@contextlib.contextmanager
def away(place: Path = PLACE) -> Iterator[None]:
    """The current folder is another one as long as this lasts, for the whole process."""
    with _alone:
        back = _way_back()
        if not back:  # the folder is gone, or may not be entered: nothing can be read in it
            yield
            return
        os.chdir(place)
        try:
            yield
        finally:
            os.chdir(back)


def _way_back() -> str:
    """The current folder; "" where nobody could come back to it."""
    try:
        here = str(Path.cwd())
        os.chdir(here)
    except OSError:
        return ""
    return here
