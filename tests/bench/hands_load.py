"""A room full of hands on loopback: python -m tests.bench.hands_load.

Thirty phones hold an airplane and send their sensor's readings, 50 a second, ten messages a second,
for as long as a rehearsal of half a minute is heard. Ten others tap four times a second meanwhile.
Told are the server's processor and memory, how long hands' readings and taps took to be on disk,
how far taps were placed from where they were, how much of what was flown is kept and how large that
is, and how long the debriefs took.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import os
import random
import sqlite3
import statistics
import tempfile
import time
from pathlib import Path

import numpy as np

from coach.hand.motion import Motion
from coach.hand.readings import Floats
from coach.logbook.logbook import Logbook
from tests.bench.page_load import _every, _used
from tests.hand.simulated import Simulated
from tests.page.flyers import Flyer
from tests.page.people import Instructor, Phone, Served, served
from tests.page.test_room_hands import plan

HZ = 50.0
BATCH_S = 0.1
TAPS_EVERY_S = 0.25


class _Found:
    """What was measured."""

    def __init__(self) -> None:
        self.kept_s: list[float] = []
        self.taps_s: list[float] = []
        self.off_s: list[float] = []
        self.late_s: list[float] = []
        self.judged_s = 0.0
        self.server = (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
        self.took_s = 0.0


Read = tuple[Floats, list[list[float]]]
"""What a sensor reads in a flight: when, seconds of it, and the quaternions."""


def _read(flown: Motion, seed: int) -> Read:
    hand = Simulated(flown, seed, rate_hz=HZ)
    return hand.times_s, hand.quaternions(hand.times_s).round(5).tolist()


async def _fly(phone: Flyer, read: Read, began_s: float, until_s: float, to: _Found) -> None:
    """Send what is read, as it is read."""
    times, turned = read
    sent: dict[int, float] = {}
    acknowledged = asyncio.create_task(_kept(phone, sent, to))
    at = int(np.searchsorted(times, time.perf_counter() - began_s))
    due_s = time.perf_counter()
    while time.perf_counter() < until_s:
        due_s += BATCH_S
        await asyncio.sleep(max(0.0, due_s - time.perf_counter()))
        to.late_s.append(time.perf_counter() - due_s)
        end = int(np.searchsorted(times, due_s - began_s))
        phone.number += 1
        sent[phone.number] = time.perf_counter()
        at_s = (times[at:end] + began_s + phone.ahead_s).round(4).tolist()
        await phone.say(type="held", number=phone.number, at_s=at_s, quaternions=turned[at:end])
        at = end
    await phone.all_kept()
    acknowledged.cancel()


async def _kept(phone: Flyer, sent: dict[int, float], to: _Found) -> None:
    """When what was sent was on disk."""
    told = len(phone.told)
    while True:
        for one in phone.told[told:]:
            if one["type"] == "kept":
                for number in [number for number in sent if number <= one["number"]]:
                    to.kept_s.append(time.perf_counter() - sent.pop(number))
        told = len(phone.told)
        phone.news.clear()
        await phone.news.wait()


async def _tap(phone: Phone, began_s: float, until_s: float, to: _Found) -> None:
    """Tap, and wait for each to be on disk."""
    since_s = time.perf_counter() + random.random() * TAPS_EVERY_S
    for at_s in _every(TAPS_EVERY_S, until_s - since_s):
        await asyncio.sleep(max(0.0, since_s + at_s - time.perf_counter()))
        now_s = time.perf_counter()
        number = await phone.tap(now_s + phone.ahead_s)
        answer = await phone.until("tapped", number=number)
        to.taps_s.append(time.perf_counter() - now_s)
        if answer["time_s"] is not None:
            to.off_s.append(answer["time_s"] - (now_s - began_s))


async def _room(server: Served, hands: int, tappers: int) -> _Found:
    to = _Found()
    async with contextlib.AsyncExitStack() as there:
        instructor = await there.enter_async_context(Instructor(server.host, server.key))
        ready = await instructor.ready()
        flown, start_s, length_s = await asyncio.to_thread(plan, server, ready["rehearsal"])
        reads = [_read(flown, seed) for seed in range(hands)]
        flyers = [
            Flyer(server.host, f"Hand {seed}", server.code, ahead_s=10.0 * seed)
            for seed in range(hands)
        ]
        others = [Phone(server.host, f"Tapper {seed}", server.code) for seed in range(tappers)]
        for one in (*flyers, *others):
            await there.enter_async_context(one)
        await asyncio.gather(*(one.held() for one in flyers), *(one.joined() for one in others))
        run = (await instructor.started())["run"]
        heard_s = start_s - 4.0
        here = instructor.clock_s()
        await instructor.heard(run, heard_s, at_s=here)
        began_s = here + start_s - heard_s
        until_s = began_s + length_s - start_s - 0.5
        before, since = _used(server.process.pid), time.perf_counter()
        await asyncio.gather(
            *(
                _fly(one, read, began_s, until_s, to)
                for one, read in zip(flyers, reads, strict=True)
            ),
            *(_tap(one, began_s, until_s, to) for one in others),
        )
        to.server, to.took_s = (
            (before, _used(server.process.pid)),
            time.perf_counter() - since,
        )
        since = time.perf_counter()
        await instructor.heard(run, length_s, at_s=here + length_s - heard_s)
        await asyncio.gather(*(one.until("own") for one in (*flyers, *others)))
        to.judged_s = time.perf_counter() - since
    return to


def load(hands: int, tappers: int) -> None:
    """Measure a room."""
    with tempfile.TemporaryDirectory() as home, served(Path(home), "Load") as server:
        found = asyncio.run(_room(server, hands, tappers))
        path = Path(home, "logbook.sqlite3")
        with Logbook(path) as book:
            motions = [run.motion for run in book.runs(1000) if run.motion]
        with sqlite3.connect(path) as db:
            (size,) = db.execute("SELECT coalesce(sum(length(part)), 0) FROM motions").fetchone()
    (processor_s, _, _), (after_s, now, most) = found.server
    print(f"{hands} hands at {HZ:g} Hz and {tappers} who tap, {found.took_s:.0f} s", end="; ")
    print(f"load of this machine {os.getloadavg()[0]:.1f}")
    print(
        f"server: {100 * (after_s - processor_s) / found.took_s:.0f} % of one processor, "
        f"{now:.0f} MB, {most:.0f} MB at most"
    )
    _told("taps on disk after", found.taps_s)
    _told("taps placed off by", [abs(one) for one in found.off_s])
    _told("readings on disk after", found.kept_s)
    _told("clients sent later than they meant by", found.late_s)
    if motions:
        flown_s = sum(one.time_s[-1] - one.time_s[0] for one in motions)
        gaps = [float(np.diff(one.time_s).max()) for one in motions]
        print(
            f"{len(motions)} motions, {sum(map(len, motions)) / flown_s:.1f} readings a second, "
            f"largest gap {1000 * max(gaps):.0f} ms, {60 * size / flown_s / 1000:.1f} kB a minute"
        )
    print(f"everybody's debrief {found.judged_s:.1f} s after the end")


def _told(what: str, seconds: list[float]) -> None:
    if seconds:
        inner = sorted(seconds)
        print(
            f"{what}: median {1000 * statistics.median(inner):.1f} ms, 99 % "
            f"{1000 * inner[int(0.99 * len(inner))]:.1f} ms, worst {1000 * inner[-1]:.1f} ms"
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hands", type=int, default=30)
    parser.add_argument("--tappers", type=int, default=10)
    given = parser.parse_args()
    load(given.hands, given.tappers)
