"""How fast a soundtrack is rendered, how much memory it takes, and how loud it is.

Run with ``pytest tests/bench/test_render.py -o addopts= -s``; nothing here is part of the ordinary
tests. The machine's own voice speaks, so the first run takes longer.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from coach.flight.day import Day
from coach.rehearsal.ready import Rehearsal, fly, prepare
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


# By processor time: other programs shall not count.
def test_a_second_is_rendered_at_least_40_times_faster_than_it_is_heard() -> None:
    track = forty_minutes()
    for count in (RATE, 2048, 512):
        track.frames(100 * RATE, count)
        began = time.process_time()
        rendered = 0
        while time.process_time() < began + 1.0:
            track.frames(1200 * RATE + rendered, count)
            rendered += count
        faster = rendered / RATE / (time.process_time() - began)
        print(f"{count:6d} frames at a time: {faster:4.0f} times real time")
        assert faster > 40.0


def test_mixing_takes_50_ms_and_the_first_second_100_ms_more() -> None:
    # In a new process, where nothing has been made yet; the quickest of three, so that a busy
    # moment of the machine does not count.
    took = [
        alone(
            "from tests.sound.sheets import course, sheet_of\n"
            "from coach.sound.soundtrack import mix\n"
            "sheet = sheet_of(flown=course(rudder=0.5, margin_kt=5.0), length_s=300.0)\n"
            "began = time.perf_counter()\n"
            "track = mix(sheet, {})\n"
            "mixed = time.perf_counter()\n"
            "track.frames(4 * 48000, 48000)\n"
            "print(mixed - began, time.perf_counter() - mixed)"
        )
        for _ in range(3)
    ]
    mixing, first = (1000.0 * min(one) for one in zip(*took, strict=True))
    print(f"mix {mixing:.1f} ms, the first second {first:.0f} ms")
    assert mixing < 50.0 and first < 100.0


def test_forty_minutes_rendered_in_blocks_add_40_megabytes_at_most() -> None:
    status = Path("/proc/self/status")
    if not status.exists():
        pytest.skip("this machine does not tell how much memory a process has taken")
    took, before, after = alone(
        "import re\n"
        "from tests.bench.test_render import forty_minutes\n"
        f"most = lambda: int(re.search(r'VmHWM:\\s+(\\d+)', open('{status}').read())[1]) / 1024\n"
        "before, began = most(), time.process_time()\n"
        "track = forty_minutes()\n"
        "for second in range(2400): track.frames(second * 48000, 48000)\n"
        "print(time.process_time() - began, before, most())"
    )
    print(
        f"40 minutes in {took:.1f} s, {2400.0 / took:.0f} times real time, "
        f"{after - before:.0f} MB more than the {before:.0f} MB of the modules"
    )
    assert after - before < 40.0


def alone(program: str) -> list[float]:
    """The numbers that a program prints which runs in a process of its own."""
    told = subprocess.run(
        [sys.executable, "-c", f"import time\n{program}"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return [float(word) for word in told.stdout.split()]


@pytest.fixture(scope="module", params=[(name, pace) for name in MANEUVERS for pace in (1.0, 0.5)])
def real(request: pytest.FixtureRequest) -> Rehearsal:
    name, pace = request.param
    return prepare(fly(name, "meadow-four", Day()), Day(), pace=pace)


def test_a_real_soundtrack_is_near_minus_23_lufs_and_below_minus_1_db(real: Rehearsal) -> None:
    # EBU R 128: programme loudness -23 LUFS within 1 LU; the true peak by ITU-R BS.1770-4, annex 2.
    # At half pace, little of the time is spoken in, and the blocks in which a phrase begins or
    # ends weigh more: 1.5 LU.
    pyloudnorm = pytest.importorskip("pyloudnorm")
    track = real.soundtrack
    peak = max(true_peak(track.frames(at, RATE + 100)) for at in range(0, track.length, RATE))
    loudness = pyloudnorm.Meter(RATE).integrated_loudness(track.frames(0, track.length))
    print(
        f"{real.flight.maneuver.maneuver}, pace {real.sheet.pace:g}: {loudness:.2f} LUFS, "
        f"true peak {20.0 * np.log10(peak):.2f} dB"
    )
    assert peak < PEAK and abs(loudness + 23.0) <= (1.0 if real.sheet.pace == 1.0 else 1.5)
