"""How fast a soundtrack is rendered, how much memory it takes, and how loud it is.

Run with ``pytest tests/bench/test_render.py -o addopts= -s``; nothing here is part of the ordinary
tests. The machine's own voice speaks, so the first run takes longer.
"""

from __future__ import annotations

import subprocess
import sys
import time

import numpy as np
import pytest

from coach.flight.day import Day
from coach.rehearsal import Choices, Rehearsal, fly, prepare
from coach.sound.clip import RATE, Clip
from coach.sound.soundtrack import PEAK, Soundtrack, mix
from tests.sound.sheets import course, said, sheet_of
from tests.sound.test_bed import true_peak

MANEUVERS = ("lazy-eight", "steep-turn-45", "traffic-pattern")


def forty_minutes() -> Soundtrack:
    """Every part of the bed in use, and somebody speaking half of the time."""
    time_s = np.linspace(3.0, 2390.0, 48_000)
    flown = course(
        tuple(time_s), speed_kt=tuple(90.0 + 30.0 * np.sin(time_s)), rudder=0.5, margin_kt=5.0
    )
    phrase = Clip(0.1 * np.random.default_rng(0).standard_normal(2 * RATE).astype(np.float32))
    return mix(
        sheet_of(*(said(4.0 * k) for k in range(590)), flown=flown, length_s=2400.0), {"x": phrase}
    )


def test_a_second_is_rendered_at_least_40_times_faster_than_it_is_heard() -> None:
    track = forty_minutes()
    for count in (RATE, 2048, 512):
        track.frames(100 * RATE, count)
        began = time.perf_counter()
        rendered = 0
        while time.perf_counter() < began + 1.0:
            track.frames(1200 * RATE + rendered, count)
            rendered += count
        faster = rendered / RATE / (time.perf_counter() - began)
        print(f"{count:6d} frames at a time: {faster:4.0f} times real time")
        assert faster > 40.0


def test_mixing_takes_50_ms_and_the_first_second_100_ms_more() -> None:
    # In a new process, where nothing has been made yet.
    took = subprocess.run(
        [sys.executable, "-c",
         "import time\n"
         "from coach.sound.soundtrack import mix\n"
         "from tests.sound.sheets import course, sheet_of\n"
         "sheet = sheet_of(flown=course(rudder=0.5, margin_kt=5.0), length_s=300.0)\n"
         "began = time.perf_counter()\n"
         "track = mix(sheet, {})\n"
         "mixed = time.perf_counter()\n"
         "track.frames(4 * 48000, 48000)\n"
         "print(mixed - began, time.perf_counter() - mixed)"],
        capture_output=True, text=True, check=True,
    ).stdout.split()  # fmt: skip
    mixing, first = (float(one) for one in took)
    print(f"mix {1000 * mixing:.1f} ms, the first second {1000 * first:.0f} ms")
    assert mixing < 0.05 and first < 0.1


def test_forty_minutes_rendered_in_blocks_add_40_megabytes_at_most() -> None:
    resource = pytest.importorskip("resource")
    mix(sheet_of(flown=course(rudder=0.5, margin_kt=5.0)), {}).frames(4 * RATE, RATE)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    track, began = forty_minutes(), time.perf_counter()
    for second in range(2400):
        track.frames(second * RATE, RATE)
    took = time.perf_counter() - began
    added = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024.0
    print(f"40 minutes in {took:.1f} s, {2400.0 / took:.0f} times real time, {added:.0f} MB more")
    assert added < 40.0


@pytest.fixture(scope="module", params=[(name, pace) for name in MANEUVERS for pace in (1.0, 0.5)])
def real(request: pytest.FixtureRequest) -> Rehearsal:
    name, pace = request.param
    return prepare(fly(name, "meadow-four", Day()), Day(), Choices(pace=pace))


def test_a_real_soundtrack_is_at_minus_23_lufs_and_below_minus_1_db(real: Rehearsal) -> None:
    # EBU R 128: programme loudness -23 LUFS, within 1 LU where it is not easily met; the true peak
    # by ITU-R BS.1770-4, annex 2.
    pyloudnorm = pytest.importorskip("pyloudnorm")
    track = real.soundtrack
    peak = max(true_peak(track.frames(at, RATE + 100)) for at in range(0, track.length, RATE))
    loudness = pyloudnorm.Meter(RATE).integrated_loudness(track.frames(0, track.length))
    print(
        f"{real.flight.maneuver.maneuver}, pace {real.sheet.pace:g}: {loudness:.2f} LUFS, "
        f"true peak {20.0 * np.log10(peak):.2f} dB"
    )
    assert peak < PEAK and abs(loudness + 23.0) <= 1.0
