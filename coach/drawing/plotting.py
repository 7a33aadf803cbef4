"""The drawing library as it comes, whatever settings lie about.

As it is imported it reads the first ``matplotlibrc`` of several, beginning with the current
folder's, and what stands there could name fonts, colours and programs. So it is imported here and
nowhere else, where its own is the first, and everything is drawn with its `own_settings`.

On a slow machine it says, five seconds after it began to look for letters for the first time, that
this may take a moment, and elsewhere where it keeps what it found. Both would stand in the middle
of what the coach says; neither is for a student to do anything about.
"""

from __future__ import annotations

import contextlib
import logging
import warnings
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from coach.shelf import PLACE, away


def _its_own() -> Path:
    """The folder of its own settings; where somebody moved them, one that has none."""
    found = find_spec("matplotlib")
    own = Path((found and found.origin) or "").parent / "mpl-data"
    return own if own.is_dir() else PLACE


# Whoever listens to the program's logs hears it still; without anybody it would be printed.
logging.getLogger("matplotlib").addHandler(logging.NullHandler())

with away(_its_own()):
    from matplotlib import rc_context, rcParamsDefault
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.gridspec import GridSpec
    from matplotlib.lines import Line2D
    from matplotlib.patches import Polygon, Rectangle
    from matplotlib.transforms import Bbox, ScaledTranslation

__all__ = [
    "Axes",
    "Bbox",
    "Figure",
    "GridSpec",
    "Line2D",
    "Polygon",
    "Rectangle",
    "ScaledTranslation",
    "own_settings",
]


@contextlib.contextmanager
def own_settings() -> Iterator[None]:
    """Nothing that was set elsewhere shows in what is drawn meanwhile.

    Names within a file are the same whenever it is written, and in PDF letters stay letters. What
    somebody is called is written as it is: a dollar begins no formula, and a sign that the letters
    have not is drawn as a box and not complained of.
    """
    own: dict[Any, Any] = {
        name: rcParamsDefault[name] for name in rcParamsDefault if name != "backend"
    }
    ours: dict[Any, Any] = {"svg.hashsalt": "coach", "pdf.fonttype": 42, "text.parse_math": False}
    with warnings.catch_warnings(), rc_context({**own, **ours}):
        warnings.filterwarnings("ignore", "Glyph .* missing", UserWarning)
        yield
