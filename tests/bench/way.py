"""How long an attitude is on its way from a phone's sensor to the coach, over HTTPS.

``python -m tests.bench.way --seconds 20`` has Chromium play the phone (`tests.page.phones`): its
sensor is set 50 times a second to a movement that is nowhere like itself, and what comes is
compared with that. The sensor and the radio of a real phone are not in it.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import threading
import time

import numpy as np

from coach.hand.readings import NONE
from coach.page.hand.apart import invited
from tests.page.browsing import chromium, driver
from tests.page.phones import HandPage, behind_s, waved


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=20.0)
    for_s = parser.parse_args().seconds
    with tempfile.TemporaryDirectory() as home:
        os.environ["COACH_HOME"] = home
        with invited("") as come, driver() as playwright, chromium(playwright) as browser:
            came: list[tuple[float, int]] = []
            read = NONE

            def take() -> None:
                nonlocal read
                for one in come.pairing.readings():
                    read = read.joined(one)
                    came.append((time.perf_counter(), len(one)))

            def taking() -> None:
                while not over.wait(0.002):
                    take()

            over = threading.Event()
            thread = threading.Thread(target=taking)
            thread.start()
            phone = HandPage(browser)
            phone.join(come.entrance.address, come.pairing.code)
            phone.hold(for_s=2.0)
            flown = phone.fly(waved, for_s)
            phone.hold(for_s=0.5)
            over.set()
            thread.join()
            doubt_ms = 1000.0 * come.pairing.doubt_s
    arrived = np.concatenate([np.full(many, at_s) for at_s, many in came])
    inside = (read.at_s > flown[0][0]) & (read.at_s < flown[-1][0])
    way_ms = 1000.0 * (arrived - read.at_s)[inside]
    _, bank_deg = come.pairing.grip.attitude(read.up)
    set_hz, read_hz = len(flown) / for_s, int(inside.sum()) / for_s
    print(f"set {set_hz:.1f} times a second, read {read_hz:.1f} times")
    print(f"longest gap {1000.0 * np.diff(read.at_s[inside]).max():.0f} ms")
    print(f"stamped {1000.0 * behind_s(flown, read.at_s, bank_deg):.0f} ms after it was set")
    print(f"its clock is known to {doubt_ms:.1f} ms")
    quartiles = ", ".join(f"{one:.0f}" for one in np.percentile(way_ms, [5, 50, 95]))
    print(f"at the coach {quartiles} ms after it was read (5, 50 and 95 %)")


if __name__ == "__main__":
    main()
