"""The whole way of a hand, from a phone to the debrief: ``python -m tests.bench.whole_way``.

Chromium plays the coach's page through a null sink and, in another window, a phone over HTTPS, whose
sensor is moved by a simulated hand (`tests.hand.simulated`) in any mounting. The phone is shown how
it sits, and flies the shipped lazy eight by what the coach's page says is heard, with an error put
in. Printed are what the debrief on the page says; how much later than it was flown, by what was
recorded of the sound, it is in the logbook, and how much never came there; and how the soft tone was
heard, and whether over speech. A phone's own sensor and radio are not in it.
"""

from __future__ import annotations

import argparse
import json
import os
import tempfile
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from playwright.sync_api import Browser, Page, WebSocket, expect

from coach.hand.motion import Motion
from coach.logbook.logbook import Logbook
from coach.rehearsal.moving import SENSOR_S
from coach.sound.clip import RATE
from tests.hand.simulated import Simulated, Spoiled, late_nose, more_bank, mounting, rigid
from tests.page.browsing import chromium, driver, interrupted, opened
from tests.page.flown import Listener, plan
from tests.page.people import Served, served
from tests.page.phones import HandPage
from tests.page.placing import heard_from, soundtrack
from tests.sound.null_sink import NullSink, private_server

MORE_DEG, LATE_S, TONE_DEG = 11.0, 1.4, 8.0
NEAR_S = 0.4
"""How far from where it was flown a reading is looked for."""

_AS_WELL_DEG = 1.0  # a reading is what was flown if it is so near, together in pitch and bank


def _at_90(rehearsal: dict[str, Any]) -> float:
    return float([one["time_s"] for one in rehearsal["moments"] if one["name"] == "90"][-1])


PUT: Mapping[str, Callable[[dict[str, Any]], Spoiled]] = {
    f"bank +{MORE_DEG:g} at the last 90": lambda rehearsal: more_bank(_at_90(rehearsal), MORE_DEG),
    f"nose {LATE_S:g} s late throughout": lambda _: late_nose(LATE_S),
    "a hand that does not move": lambda _: rigid(),
}


@dataclass
class Off:
    """When the page was told that the hand is off, and no more: `time.perf_counter`, and which."""

    told: list[tuple[float, bool]]

    def watch(self, socket: WebSocket) -> None:
        """What the page is told."""
        socket.on("framereceived", self._came)

    def _came(self, frame: str | bytes) -> None:
        message = json.loads(frame)
        if message["type"] == "now":
            self.told.append((time.perf_counter(), message["off"]))

    def at(self, at_s: Any) -> Any:
        """Whether it was off then."""
        times = np.array([-np.inf] + [one for one, _ in self.told])
        states = np.array([False] + [off for _, off in self.told])
        return states[np.searchsorted(times, at_s, "right") - 1]


def joined(page: Page, browser: Browser) -> HandPage:
    """A phone that comes in by what the page shows, and is shown how it sits."""
    page.click("#hand-open")
    expect(page.locator("#hand-picture img")).to_be_visible()
    phone = HandPage(browser)
    phone.grip = mounting(7)
    phone.join(
        page.locator("#hand-address").inner_text().removesuffix("/hand"),
        page.locator("#hand-code").inner_text().replace(" ", ""),
    )
    phone.hold(for_s=1.0)
    phone.page.click("#learn")
    for name, pitch_deg, bank_deg in (("Level", 0, 0), ("Nose up", 45, 0), ("Bank right", 0, 45)):
        expect(phone.page.locator("#state")).to_have_text(name)
        phone.hold(pitch_deg, bank_deg, 1.5)
        phone.page.click("#held")
    phone.hold(for_s=1.0)
    phone.trembles_deg = 0.0  # the simulated hand has a tremor of its own
    return phone


def flown(
    page: Page, phone: HandPage, listener: Listener, rehearsal: dict[str, Any], hand: Simulated
) -> list[tuple[float, float, float]]:
    """Fly until the page has a debrief: what was set when, `time.perf_counter`, pitch and bank."""

    def attitude(_: float) -> tuple[float, float]:
        at_s = max(listener.flown_s(rehearsal), -15.0)
        pitch, bank = hand.attitude(min(at_s, hand.plan.time_s[-1] + 15.0))
        return float(pitch[0]), float(bank[0])

    out: list[tuple[float, float, float]] = []
    while not page.locator("#judged img").is_visible():
        out += phone.fly(attitude, 1.0)
    return out


def way(
    put: list[tuple[float, float, float]], kept: Motion, began_s: float
) -> tuple[Any, float, float]:
    """How much later each reading is in the logbook, s; and the share that never came there.

    A reading is recognised by its noise: no other one near it is alike.

    Args:
        put: what was set when.
        kept: what the logbook has.
        began_s: when the flight was heard to begin.
    """
    set_s, pitch, bank = np.array(put).T
    at_s = set_s - began_s
    inside = (at_s > 0.5) & (at_s < kept.time_s[-1] - 0.5)
    at_s, pitch, bank = at_s[inside], pitch[inside], bank[inside]
    times, kept_pitch, kept_bank = (
        np.array(one) for one in (kept.time_s, kept.pitch_deg, kept.bank_deg)
    )
    # What the level that was taken before makes of it all.
    for _ in range(3):
        level = [
            np.median(one - np.interp(times, at_s + 0.03, set_))
            for one, set_ in ((kept_pitch, pitch), (kept_bank, bank))
        ]
        kept_pitch, kept_bank = kept_pitch - level[0], kept_bank - level[1]
    found = np.zeros(len(at_s), dtype=bool)
    delays = []
    for time_s, one, other in zip(times, kept_pitch, kept_bank, strict=True):
        near = np.flatnonzero(np.abs(at_s - time_s) < NEAR_S)
        if not len(near):
            continue
        off = np.hypot(pitch[near] - one, bank[near] - other)
        best = int(near[int(np.argmin(off))])
        if off.min() < _AS_WELL_DEG and not found[best]:
            found[best] = True
            delays.append(time_s - at_s[best])
    gap_s = float(np.diff(times).max())
    return np.array(delays), 1.0 - float(found.mean()), gap_s


def tones(
    samples: Any, track: Any, started_s: float, heard_s: float, cues: list[Any], off: Off
) -> str:
    """How loud 330 Hz is beside the soundtrack: where the hand is off and nothing is said, and else."""
    frame = RATE // 10
    begin = round((heard_s - started_s) * RATE)
    window = np.hanning(frame) * np.exp(-2j * np.pi * 330.0 * np.arange(frame) / RATE)
    rows = []
    for at in range(0, min(len(track), len(samples) - begin) - frame, frame):
        middle_s = (at + frame / 2) / RATE
        said = any(one["start_s"] - 0.1 < middle_s < one["end_s"] + 0.1 for one in cues)
        # Off for a while, or not for a while: it comes and goes softly.
        states = off.at(heard_s + middle_s - np.array([0.0, 0.3, 0.6]))
        if states.any() != states.all():
            continue
        parts = samples[begin + at : begin + at + frame], track[at : at + frame]
        heard, due = (2.0 * abs(np.sum(part * window)) / window.real.shape[0] * 2 for part in parts)
        rows.append((said, bool(states.all()), heard, due))
    told = []
    for words, wanted in (
        ("off, nothing said", (False, True)),
        ("off, something said", (True, True)),
        ("not off", None),
    ):
        some = np.array(
            [one[2:] for one in rows if (one[:2] == wanted if wanted else not one[1])] or [(0, 0)]
        )
        heard_db, due_db = (20.0 * np.log10(np.median(part) + 1e-6) for part in some.T)
        told.append(f"{words}: {heard_db:.0f} dB, the soundtrack {due_db:.0f} ({len(some)})")
    return "; ".join(told)


def flight(
    browser: Browser, server: Served, sink: NullSink, home: Path, loops: int, put: str, seed: int
) -> None:
    """One flight, and what is printed of it."""
    page = opened(browser, server)
    listener, off = Listener(page), Off([])
    page.on("websocket", off.watch)
    phone = joined(page, browser)
    page.select_option("select[name=maneuver]", "lazy-eight")
    for summary in page.locator("#choice summary").all():
        if summary.locator("..").get_attribute("open") is None:
            summary.click()
    page.select_option("select[name=support]", "checkpoints")
    page.fill("input[name=loops]", str(loops))
    with page.expect_response("**/api/rehearsals") as answer:
        page.click("#choice button.large")
        expect(page.locator("#board img")).to_be_visible()
    with server.client() as client:
        id_ = answer.value.json()["id"]
        rehearsal = client.get(f"/api/rehearsals/{id_}", timeout=120.0).json()
    hand = Simulated(plan(rehearsal), seed, (PUT[put](rehearsal),))
    sink.start_recording()
    page.click("#start")
    turned = flown(page, phone, listener, rehearsal, hand)
    said = page.locator("#judged").inner_text().split("\n")
    recording = sink.stop_recording()
    stumbled = interrupted(page)
    track = soundtrack(server, rehearsal)
    with server.client() as client:
        client.post("/api/hand/leave", json={})
    phone.context.close()
    page.context.close()
    with Logbook(home / "logbook.sqlite3") as book:
        kept = max(book.runs(), key=lambda run: run.id or 0).motion
    middle_s = turned[len(turned) // 2][0]
    (heard_s,) = heard_from(recording, track, [middle_s])
    delays, lost, gap_s = way(turned, kept, heard_s + rehearsal["flight_start_s"])
    for_s = turned[-1][0] - turned[0][0]
    print(f"\n{put} (seed {seed}, {loops} loops); the page says:")
    for line in said[:6]:
        print(f"    {line}")
    low, half, high = 1000.0 * np.percentile(delays, [5, 50, 95])
    print(f"  set {len(turned) / for_s:.0f} times a second, {len(kept)} readings kept")
    print(
        f"  in the logbook at t + {half:.0f} ms ({low:.0f} to {high:.0f} for 90 of 100), of which "
        f"{1000.0 * SENSOR_S:.0f} ms were taken off for a sensor"
    )
    print(
        f"  {100.0 * lost:.1f} % of what was set is not there; longest gap {1000.0 * gap_s:.0f} ms"
    )
    print(
        f"  told {kept.doubt_s:.3f} s of doubt; sound {'stumbled' if stumbled else 'went on'}, "
        f"{1000.0 * recording.lost_s:.0f} ms of the recording lost"
    )
    heard = tones(recording.samples, track, recording.started_at, heard_s, rehearsal["cues"], off)
    print(f"  at 330 Hz, median: {heard}", flush=True)


def main() -> None:
    """Fly and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.whole_way", description=__doc__)
    parser.add_argument("--loops", type=int, default=2)
    parser.add_argument("--seed", type=int, default=3)
    parser.add_argument("--only", choices=PUT, nargs="+")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, private_server() as sink:
        home = Path(folder)
        os.environ["COACH_HOME"] = folder
        (home / "settings.yaml").write_text(f"hand_tone_deg: {TONE_DEG:g}\n")
        with (
            served(home) as server,
            driver() as playwright,
            chromium(playwright, sink.environment) as browser,
        ):
            for put in asked.only or PUT:
                flight(browser, server, sink, home, asked.loops, put, asked.seed)


if __name__ == "__main__":
    main()
