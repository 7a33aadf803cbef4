"""Real browsers that hear through a sound server of the test's own, and what they are measured by."""

from __future__ import annotations

import io
import os
import shutil
import time
import wave
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from playwright.sync_api import Browser, Page, Playwright
from scipy.signal import correlate, decimate

from tests.page.people import Served
from tests.sound.null_sink import RATE, Recording

KITE = Path(__file__).parents[1] / "kite.yaml"

_EACH = 8  # samples taken together for a first look
_ABOUT = 2 * RATE  # samples before and after a tap
_STUMBLE = RATE // 4  # as much may be lost in all


@contextmanager
def chromium(
    playwright: Playwright, environment: dict[str, str] | None = None
) -> Iterator[Browser]:
    """The system's Chromium; skips where there is none, fails so under CI."""
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        (pytest.fail if os.environ.get("CI") else pytest.skip)("not installed here: chromium")
    browser = playwright.chromium.launch(
        executable_path=program,
        args=["--no-sandbox", "--autoplay-policy=no-user-gesture-required"],
        ignore_default_args=["--mute-audio"],
        env={**(environment or os.environ)},
    )
    try:
        yield browser
    finally:
        browser.close()


def with_a_kite(home: Path) -> Path:
    """A student's folder with a light, slow airplane in it."""
    airplanes = home / "scripts" / "airplanes"
    airplanes.mkdir(parents=True)
    shutil.copy(KITE, airplanes)
    return home


def watched(page: Page) -> list[str]:
    """Whatever the page complains about from now on."""
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("console", lambda line: complaints.append(line.text) if line.type == "error" else None)
    return complaints


def pressed(page: Page, key: str = "Space") -> float:
    """Press a key; when that was, on `time.perf_counter`, half-way through its way there."""
    before = time.perf_counter()
    page.keyboard.down(key)
    after = time.perf_counter()
    page.keyboard.up(key)
    return (before + after) / 2.0


def soundtrack(server: Served, rehearsal: dict[str, Any]) -> npt.NDArray[np.float64]:
    """What the server gives to be heard, mono."""
    pieces = []
    with server.client() as client:
        for piece in range(rehearsal["pieces"]):
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
