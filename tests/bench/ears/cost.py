"""What hearing costs: ``python -m tests.bench.ears.cost``, on a machine that does nothing else.

Phrases arrive at their own tempo at the coach's own ears and their process: how long it takes to
load, how much memory and processor it needs, and how long after the last word a verdict comes.
"""

from __future__ import annotations

import argparse
import queue
import statistics
import tempfile
import time
from pathlib import Path

import psutil

from coach.ears.ears import Ears
from coach.ears.microphone import Block
from coach.ears.segments import RATE
from tests.bench.ears.samples import Recording, recording, tries
from tests.ears.attempts import Attempt
from tests.ears.speakers import FRESH, keep_in

BLOCK_S = 0.02


class Arriving:
    """An input at which a sound arrives at its own tempo, as soon as somebody waits for it."""

    def __init__(self) -> None:
        self.name = "a recording"
        self.rate = RATE
        self.alive = True
        self.blocks: queue.SimpleQueue[Block] = queue.SimpleQueue()

    def start(self) -> None:
        """Nothing arrives before `put`."""

    def close(self) -> None:
        """Nothing is open."""


def worker() -> psutil.Process:
    """The recogniser's process, which is this one's child."""
    children = psutil.Process().children(recursive=True)
    return next(one for one in children if "coach.ears.worker" in " ".join(one.cmdline()))


def peak_mb(process: psutil.Process) -> float:
    """The most memory that a process ever held (Linux)."""
    lines = Path(f"/proc/{process.pid}/status").read_text().splitlines()
    return next(float(line.split()[1]) / 1000.0 for line in lines if line.startswith("VmHWM"))


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.ears.cost", description=__doc__)
    parser.add_argument("--phrases", type=int, default=30)
    parser.add_argument("--spoken", type=Path, help="the folder of what was spoken")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        keep_in(asked.spoken or Path(folder))
        voice, rate = FRESH[1]
        said = recording(voice, rate, dict(enumerate(tries("own", asked.phrases))), "quiet")
    source = Arriving()
    began = time.perf_counter()
    with Ears(source) as ears:
        ears.wait()
        print(f"ready after {time.perf_counter() - began:.2f} s")
        process = worker()
        used = sum(process.cpu_times()[:2])
        late = _hear(ears, source, said)
        used = sum(process.cpu_times()[:2]) - used
        length_s = len(said.sound) / RATE
        print(
            f"{peak_mb(process):.0f} MB at most; {100 * used / length_s:.1f} % of a processor over "
            f"{length_s:.0f} s with {len(late)} of {len(said.tries)} phrases heard, "
            f"{used / max(1, len(late)):.2f} s each"
        )
    late.sort()
    print(
        f"told {statistics.median(late):.2f} s after the last word (median), "
        f"{late[int(0.95 * len(late))]:.2f} s (95 %), {late[-1]:.2f} s at most"
    )


def _hear(ears: Ears, source: Arriving, said: Recording[Attempt]) -> list[float]:
    """How long after each phrase's last word it was told, as far as any of it was."""
    began = time.perf_counter()
    for since, grammar in said.expected:
        ears.expect(grammar, began + since)
    late: dict[int, float] = {}
    count = round(BLOCK_S * RATE)
    for first in range(0, len(said.sound), count):
        block = said.sound[first : first + count]
        at = began + first / RATE
        time.sleep(max(0.0, at + len(block) / RATE - time.perf_counter()))
        source.blocks.put(Block(at, block, RATE))
        for one in ears.utterances():
            late[one.expected] = time.perf_counter() - began - said.ends_s[one.expected]
    return [*late.values()]


if __name__ == "__main__":
    main()
