"""What stands out of what: tones, ticks and speech that sound together, in third-octave bands.

The masked threshold of a band is what else sounds in it, or what sounds in the band below less
2.5 dB if that is more (ISO 7731:2003, annex B, from memory): low sounds hide higher ones. Both are
taken over the same short window, because a tone is short; how long an ear takes to recover from
what was loud before is left out.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from coach.callouts.cuesheet import Cue, CueSheet
from coach.sound.clip import RATE, Floats, Samples
from coach.sound.soundtrack import Sound, Soundtrack

CENTRES_HZ = 1000.0 * 2.0 ** (np.arange(-8, 10) / 3.0)
"""160 to 8,000 Hz."""

HEARD = (CENTRES_HZ > 240.0) & (CENTRES_HZ < 4100.0)
"""Where a tone is looked for: small loudspeakers give little below 300 Hz, and old ears hear little
above 4,000 (common practice, no source)."""

IMPORTANCE = np.array([83, 95, 150, 289, 440, 578, 653, 711, 818, 844, 882, 898, 868, 844, 771,
                       527, 364, 185]) / 10_000  # fmt: skip
"""What each band gives to understanding speech: ANSI S3.5-1997, table 3, from memory."""

FRAME_S = 0.02
_SIZE = 8192
_FLOOR = 1e-12


def levels(samples: Samples | Floats) -> Floats:
    """Mean power in each band, over a window of at most 0.17 s."""
    power = np.abs(np.fft.rfft(samples, _SIZE)) ** 2
    hz = np.fft.rfftfreq(_SIZE, 1.0 / RATE)
    edges = (CENTRES_HZ[:, None] * 2.0 ** np.array([-1 / 6, 1 / 6])).T
    inside = (hz >= edges[0][:, None]) & (hz < edges[1][:, None])
    return np.asarray(2.0 * inside @ power / _SIZE / len(samples))


def threshold(masker: Samples | Floats) -> Floats:
    """The masked threshold in each band, as power."""
    masked = levels(masker) + _FLOOR
    for band in range(1, len(masked)):
        masked[band] = max(masked[band], masked[band - 1] * 10 ** (-2.5 / 10))
    return masked


def above_db(signal: Samples | Floats, masker: Samples | Floats) -> float:
    """How far a signal stands above the masked threshold in the band where it does so most."""
    return float(10.0 * np.log10((levels(signal) / threshold(masker))[HEARD].max() + _FLOOR))


def intelligibility(speech: Samples | Floats, masker: Samples | Floats) -> float:
    """Speech intelligibility index, 0 to 1, of speech in a masker of the same length.

    ANSI S3.5-1997 takes a steady masker; for one that comes and goes the index is taken in short
    frames and averaged (Rhebergen and Versfeld, J. Acoust. Soc. Am. 117 (2005), from memory), the
    speech at its mean level throughout. Of the standard's spread of masking `threshold` stands in.
    """
    size = round(FRAME_S * RATE)
    mean = np.mean([levels(part) for part in _frames(speech, size)], axis=0)
    found = []
    for part in _frames(masker, size):
        ratio_db = 10.0 * np.log10((mean + _FLOOR) / threshold(part))
        found.append(IMPORTANCE @ np.clip((ratio_db + 15.0) / 30.0, 0.0, 1.0))
    return float(np.mean(found) / IMPORTANCE.sum())


def _frames(samples: Samples | Floats, size: int) -> list[Samples | Floats]:
    return [samples[at : at + size] for at in range(0, len(samples) - size + 1, size)]


def spoken(track: Soundtrack, sheet: CueSheet) -> list[Sound]:
    """The phrases of a soundtrack."""
    found = (track.sound(cue) for cue in sheet.cues if cue.phrase is not None)
    return [sound for sound in found if sound is not None]


def marked(track: Soundtrack, cue: Cue, speech: Iterable[Sound]) -> Sound:
    """The tone or tick of a cue."""
    start, known = round(cue.start_s * RATE), {id(sound) for sound in speech}
    return next(one for one in track.sounds if one.start == start and id(one) not in known)


def part(sounds: Iterable[Sound], start: int, count: int) -> Floats:
    """What is heard of some sounds alone from one frame on."""
    out = np.zeros(count)
    for sound in sounds:
        begin, end = max(start, sound.start), min(start + count, sound.end)
        if begin < end:
            out[begin - start : end - start] += (
                sound.gain * sound.samples[begin - sound.start : end - sound.start]
            )
    return out
