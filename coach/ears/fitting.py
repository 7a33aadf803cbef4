"""How far a voice must stand out to be taken for the student, in a room and for a person."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from coach.ears.levels import Level

_SHARE = 0.4
"""Of what a voice's louder parts stand out by: a little more than half of it still misses none of
the tuning voices in a fan's and an engine's noise 10 dB below them."""

_MOST_DB = 3.5
"""A room that is noisier the next time must not shut out the student."""

_LEAST_DB = 0.8
_ABOVE = 1.1


@dataclass(frozen=True)
class Fitting:
    """What the cut goes by, in dB as `coach.ears.bands.Bands` gives them.

    The usual values are chosen on the tuning voices of `tests/ears/speakers.py`, in quiet and in
    three noises at three distances (`python -m tests.bench.cut`).

    Attributes:
        begins_db: so far must a voice stand out to begin an utterance.
        goes_on_db: down to this it goes on.
    """

    begins_db: float = 1.8
    goes_on_db: float = 0.8


def fitted(quiet: Sequence[Level], spoken: Sequence[Level]) -> Fitting:
    """What fits a student in a room.

    Args:
        quiet: levels while the student was silent.
        spoken: levels while the student said a phrase every few seconds.

    Returns:
        Well below the voice and above what the room does by itself; the usual values where there is
        nothing to go by.
    """
    usual = Fitting()
    if not quiet or not spoken:
        return usual
    # A fifth of the time is voice for certain; the room's loudest moments may be a knock.
    voice = float(np.quantile([level.stands_out_db for level in spoken], 0.9))
    room = float(np.quantile([level.stands_out_db for level in quiet], 0.98))
    begins_db = float(np.clip(max(_SHARE * voice, _ABOVE * room), _LEAST_DB, _MOST_DB))
    return Fitting(round(begins_db, 2), round(min(usual.goes_on_db, begins_db / 2.0), 2))
