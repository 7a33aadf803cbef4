"""How far a sound stands out of the noise of the last seconds, in each band of the ear.

A voice fills bands that are usually quiet in the room, whatever else hums in others; other people's
talk fills them too, but so often that it is part of how much they usually swing.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

RATE = 16_000
"""Samples a second."""

Samples = npt.NDArray[np.float32]

FRAME_S = 0.02
FRAME = round(FRAME_S * RATE)

LAG = 2
"""What is said of a sound is known so many frames after it."""

# The edges of the ear's critical bands, in Hz (Zwicker 1961, from memory), between rumble and what
# a telephone headset still hands on.
_EDGES_HZ = (200, 300, 400, 510, 630, 770, 920, 1080, 1270, 1480, 1720, 2000, 2320, 2700, 3150,
             3700, 4400, 5300, 6400, 7700)  # fmt: skip
_AT_HZ = np.fft.rfftfreq(2 * FRAME, 1.0 / RATE)
_BANDS = np.equal.outer(np.arange(1, len(_EDGES_HZ)), np.digitize(_AT_HZ, _EDGES_HZ)).astype(
    np.float64
)
_WINDOW = np.hanning(2 * FRAME)

_PAST = round(10.0 / FRAME_S)
"""A student speaks for less than half of any ten seconds, so that the median is the room's."""

_EVERY = round(0.2 / FRAME_S)
_SMOOTH = 3
_LEAST_DB = 3.0
_SWINGS = 1.5
_MOST_SWING_DB = 12.0
"""Where a student speaks most of the time, the swing is their own."""

_MOST_DB = 12.0
_SILENCE = 1e-5
"""Added to each band's power, some 80 dB below full scale: digital silence is a quiet room too."""


class Bands:
    """Takes frame after frame and tells how far each stands out."""

    def __init__(self) -> None:
        self._before: Samples = np.zeros(FRAME, np.float32)
        self._recent = np.zeros((_PAST, len(_BANDS)))
        self._last: list[npt.NDArray[np.float64]] = []
        self._known = 0
        self._floor = np.zeros(len(_BANDS))
        self._needed = np.zeros(len(_BANDS))

    def hear(self, frame: Samples) -> float | None:
        """How far the sound `LAG` frames ago stands out.

        Args:
            frame: the next `FRAME` samples; what is to be left out is NaN.

        Returns:
            The mean over the bands of how many dB each lies above its own median of the last ten
            seconds, beyond 3 dB and one and a half times its usual swing (the median of its
            distance from that), from 0 to 12; None where something is left out.
        """
        window = np.concatenate([self._before, frame])
        self._before = frame
        power = _BANDS @ np.abs(np.fft.rfft(window * _WINDOW)) ** 2
        if np.isnan(power[0]):
            self._last = []
            return None
        self._last = [*self._last[1 - _SMOOTH :], 10.0 * np.log10(power + _SILENCE)]
        level = np.mean(self._last, axis=0)
        self._recent[self._known % _PAST] = level
        self._known += 1
        if self._known % _EVERY == 0 or self._known < _EVERY:
            self._learn()
        return float(np.clip(level - self._floor - self._needed, 0.0, _MOST_DB).mean())

    def begin_anew(self, frames: int) -> None:
        """Forget the room but for its last frames: it has changed, and they are the new one."""
        last = np.arange(self._known - min(frames, self._known, _PAST), self._known) % _PAST
        self._recent[: len(last)] = self._recent[last]
        self._known = len(last)
        self._learn()

    def _learn(self) -> None:
        past = self._recent[: self._known]
        self._floor = np.median(past, axis=0)
        swing = np.median(np.abs(past - self._floor), axis=0)
        self._needed = np.clip(_SWINGS * swing, _LEAST_DB, _MOST_SWING_DB)
