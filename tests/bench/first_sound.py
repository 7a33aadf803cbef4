"""From Enter, or from the press on the page, to the first sound: ``python -m tests.bench.first_sound``.

Cold is a machine that never spoke before (an empty folder of its own for each time), warm one that
spoke everything the time before. In the terminal ``coach rehearse`` runs in a pseudo-terminal and
plays through real PortAudio into a null sink, whose monitor is recorded: from the start of the
process, which is what Enter in a shell comes to, to the first sample above silence in the
recording. On the page a real Chromium presses Read the brief and, as soon as it can, the button
that starts the sound: from that press, on the browser's clock, to the moment for which the first
sound was scheduled, plus the place of its first sample above silence and the output's latency as
the browser tells it.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np
from playwright.sync_api import Browser

from coach.flight.day import Day
from coach.rehearsal.ready import fly, prepare
from coach.shelf import AIRPLANE
from tests.page.browsing import chromium, driver, opened
from tests.page.people import served
from tests.rehearsal.test_run import at_terminal
from tests.sound.null_sink import RATE, NullSink, missing, private_server

MANEUVER = "lazy-eight"
AUDIBLE = 10 ** (-50 / 20)
LIMIT_S = 60.0

_SCHEDULED = f"""
addEventListener("click", (event) => {{
  if (event.target.closest("#start")) window.pressed_ms = performance.now();
}}, true);
const start = AudioBufferSourceNode.prototype.start;
AudioBufferSourceNode.prototype.start = function (when, offset = 0) {{
  if (window.first_s === undefined) {{
    const {{ context, buffer }} = this;
    const samples = buffer.getChannelData(0);
    const skipped = Math.round(offset * buffer.sampleRate);
    const audible = samples.findIndex((one, index) => index >= skipped && Math.abs(one) > {AUDIBLE});
    const silent_s = (audible - skipped) / buffer.sampleRate;
    const latency_s = context.outputLatency || context.baseLatency || 0;
    const ahead_s = when - context.currentTime + silent_s + latency_s;
    if (audible >= 0) window.first_s = (performance.now() - window.pressed_ms) / 1000 + ahead_s;
  }}
  return start.call(this, when, offset);
}};
"""


def in_terminal(sink: NullSink, home: Path) -> float:
    """Seconds to the first sound of one rehearsal in a terminal."""
    environment = {**sink.environment, "COACH_HOME": str(home)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)  # as installed: compiled once
    sink.start_recording()
    command = (sys.executable, "-m", "coach", "rehearse", MANEUVER)
    begun = time.perf_counter()
    with at_terminal(environment, command) as terminal:
        deadline = time.monotonic() + LIMIT_S
        while not _audible(sink._chunks[:]) and time.monotonic() < deadline:
            time.sleep(0.05)
        terminal.press(b"q")
        terminal.coach.wait(60)
    recording = sink.stop_recording()
    loud = np.flatnonzero(np.abs(recording.samples) > AUDIBLE)
    assert len(loud), "nothing was heard"
    return recording.started_at + float(loud[0]) / RATE - begun


def _audible(chunks: list[bytes]) -> bool:
    data = b"".join(chunks)
    samples = np.frombuffer(data[: len(data) // 4 * 4], dtype="<f4")
    return bool((np.abs(samples) > AUDIBLE).any())


def on_page(browser: Browser, home: Path) -> float:
    """Seconds from the press to the first sound on the page."""
    with served(home) as server:
        page = opened(browser, server, _SCHEDULED)
        page.select_option("select[name=maneuver]", MANEUVER)
        page.click("#choice button.large")
        page.click("#start", timeout=1000 * LIMIT_S)
        deadline = time.monotonic() + LIMIT_S
        while (first_s := page.evaluate("window.first_s")) is None:
            assert time.monotonic() < deadline, "nothing was scheduled"
            time.sleep(0.05)
        page.context.close()
    return float(first_s)


def warm() -> None:
    """Have everything spoken that is measured, in the folder that is set."""
    prepare(fly(MANEUVER, AIRPLANE, Day()), Day())


def times(measure: Callable[[Path], float], count: int, *, cold: bool) -> list[float]:
    """So many measured one after the other, each with its folder."""
    found = []
    with tempfile.TemporaryDirectory() as folder:
        os.environ["COACH_HOME"] = str(Path(folder, "warm"))
        if not cold:
            warm()
        for number in range(count):
            found.append(measure(Path(folder, f"cold {number}" if cold else "warm")))
    return found


def main() -> None:
    """Measure and print a table."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--count", type=int, default=10)
    count = asked.parse_args().count
    if absent := missing():
        sys.exit(absent)
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    print("where      cache   times   median    worst")
    with private_server() as sink, driver() as playwright, chromium(playwright) as browser:
        ways: dict[str, Callable[[Path], float]] = {
            "terminal": partial(in_terminal, sink),
            "page": partial(on_page, browser),
        }
        for where, measure in ways.items():
            for cold in (False, True):
                found = times(measure, count, cold=cold)
                state = "cold" if cold else "warm"
                print(
                    f"{where:<9}  {state:<6}  {count:>5}  {statistics.median(found):>5.2f} s  "
                    f"{max(found):>5.2f} s",
                    flush=True,
                )


if __name__ == "__main__":
    main()
