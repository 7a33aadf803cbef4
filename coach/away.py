"""Away from the current folder: nothing that lies there rules what is imported or started.

Python looks for modules where it is started, and the drawing library for its settings where it is
imported. The folder that the coach is called in may hold anything, such as a ``wave.py``.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

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
