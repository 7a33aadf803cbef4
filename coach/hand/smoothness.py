"""How smooth a movement is: the spectral arc length of its speed.

S. Balasubramanian, A. Melendez-Calderon, A. Roby-Brami and E. Burdet, On the analysis of movement
smoothness, J. NeuroEngineering and Rehabilitation 12 (2015) 112: minus the length of the speed's
amplitude spectrum, divided by its value at 0, over the frequencies from 0 to the last one at which
it is above a threshold. Nearer to zero is smoother. The paper's own values: at most 10 Hz, a
threshold of 0.05, and four times as many doublings of the series with zeros.
"""

from __future__ import annotations

import numpy as np

from coach.hand.readings import Floats

MOST_HZ = 10.0

THRESHOLD = 0.05

DOUBLINGS = 4


def spectral_arc_length(speed: Floats, rate_hz: float) -> float:
    """The smoothness of one movement.

    Args:
        speed: its magnitude at an even rate, shape (n,), in any unit.
        rate_hz: values a second.

    Returns:
        A negative number; 0 for a movement that is none.
    """
    size = 2 ** (int(np.ceil(np.log2(max(len(speed), 1)))) + DOUBLINGS)
    amplitude = np.abs(np.fft.rfft(speed, size))
    if not amplitude[0] > 0.0:
        return 0.0
    hertz = np.fft.rfftfreq(size, 1.0 / rate_hz)
    inside = hertz <= MOST_HZ
    amplitude, hertz = amplitude[inside] / amplitude[0], hertz[inside]
    last = int(np.flatnonzero(amplitude >= THRESHOLD)[-1])
    amplitude, hertz = amplitude[: last + 1], hertz[: last + 1]
    if not last:
        return 0.0
    return -float(np.hypot(np.diff(hertz) / (hertz[-1] - hertz[0]), np.diff(amplitude)).sum())
