"""Sound at any device's rate brought to the recogniser's, block by block."""

from __future__ import annotations

import numpy as np

from coach.ears.segments import RATE, Samples

_TAPS = 97
_PASSED_HZ = 7_000.0
"""The recogniser looks no higher than 6.8 kHz."""


class Resampler:
    """Keeps from one block to the next what the filter needs, so that no seam is heard.

    Attributes:
        delay_s: how far what comes out lies behind what went in.
    """

    def __init__(self, rate: int) -> None:
        from scipy.signal import firwin

        self._step = rate / RATE
        self._taps = np.ones(1)
        if rate > RATE:
            self._taps = firwin(_TAPS, _PASSED_HZ, fs=rate)
        self.delay_s = (len(self._taps) - 1) / 2.0 / rate
        self._before = np.zeros(len(self._taps) - 1)
        self._last = 0.0
        self._next = 1.0

    def feed(self, samples: Samples) -> Samples:
        """The next samples at `RATE`, as many as these complete."""
        if not len(samples):
            return samples
        whole = np.concatenate([self._before, samples])
        self._before = whole[len(samples) :]
        passed = np.convolve(whole, self._taps, "valid")
        # Sample 0 is the last one of the block before; what lies between two is taken straight.
        known = np.concatenate([[self._last], passed])
        wanted = np.arange(self._next, len(passed) + 1e-9, self._step)
        self._last = float(known[-1])
        self._next += len(wanted) * self._step - len(passed)
        return np.asarray(np.interp(wanted, np.arange(len(known)), known), dtype=np.float32)
