"""Where taps belong by what was heard of the page, and how far off they were placed."""

from __future__ import annotations

import io
import statistics
import wave
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.signal import correlate, decimate

from tests.page.people import Served
from tests.sound.null_sink import RATE, Recording

CLOSE_S = 0.03
"""How far a tap may be off the truth; the recorder's own time is good to about 10 ms."""

_EACH = 8  # samples taken together for a first look
_ABOUT = 2 * RATE  # samples before and after a tap
_STUMBLE = RATE // 4  # as much may be lost in all


def soundtrack(server: Served, rehearsal: dict[str, Any]) -> npt.NDArray[np.float64]:
    """What the server gives to be heard, mono."""
    pieces = []
    with server.client() as client:
        for piece in range(len(rehearsal["pieces"])):
            given = client.get(f"/api/rehearsals/{rehearsal['id']}/sound/{piece}.wav").content
            with wave.open(io.BytesIO(given)) as file:
                frames = np.frombuffer(file.readframes(file.getnframes()), "<i2")
            pieces.append(frames.reshape(-1, 2).mean(axis=1) / 32768.0)
    return np.concatenate(pieces)


def heard_from(
    recording: Recording, track: npt.NDArray[np.float64], taps: list[float]
) -> list[float]:
    """When position 0 of the soundtrack was heard, by what was heard about each tap.

    Where the recording and the soundtrack agree best: first all of both, then the seconds about
    the tap alone, for a busy machine's sound may stumble and go on later.

    Args:
        recording: what was heard.
        track: what was to be heard.
        taps: on `time.perf_counter`, as is what comes back.
    """
    rough = decimate(recording.samples, _EACH), decimate(track, _EACH)
    agreement = correlate(rough[0], rough[1], "full", "fft")
    whole = (int(np.argmax(agreement)) - (len(rough[1]) - 1)) * _EACH
    begins = []
    for tap in taps:
        at = round((tap - recording.started_at) * RATE) - whole
        recorded = len(recording.samples) - whole - _STUMBLE
        begin, end = max(0, at - _ABOUT), min(len(track), at + _ABOUT, recorded)
        first = max(0, begin + whole - _STUMBLE)
        heard = recording.samples[first : end + whole + _STUMBLE]
        best = int(np.argmax(correlate(heard, track[begin:end], "valid", "fft")))
        begins.append(recording.started_at + (first + best - begin) / RATE)
    return begins


def tap_errors(positions: list[float], taps: list[float], heard: list[float]) -> list[float]:
    """How far off each tap was placed, s; too early where it is below zero.

    A sound server that stands for some hundredths of a second is heard that much later from then
    on. The page says nothing of less than 60 ms, and comes to know of it within seconds: until then
    it goes by what was heard before. Where nothing stumbled, that is one and the same.

    Args:
        positions: where on the soundtrack the page placed them, s.
        taps: when they were made.
        heard: when position 0 was heard, by what was heard about each of them.
    """
    first, last = min(heard), max(heard)
    errors = []
    for at_s, tap in zip(positions, taps, strict=True):
        begin = tap - at_s  # as the page has it
        errors.append(min(max(begin, first), last) - begin)
    return errors


def close(errors: list[float], *, stumbled: bool) -> None:
    """The taps are where they were; where the page said that its sound stumbled, half of them.

    Those about the stumble are heard on one side of it and placed on the other.
    """
    assert statistics.median_low(map(abs, errors)) < CLOSE_S
    assert stumbled or max(map(abs, errors)) < 2 * CLOSE_S
