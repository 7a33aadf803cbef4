"""A full room on loopback, and clocks through delays: python -m tests.bench.page_load.

Two hundred phones tap every checkpoint and some moments more of half a minute's rehearsal, in
less time than it would take, and a tenth of them four times a second all the while. Then clocks are
learned through a proxy that holds every message back for a while, each way by itself, and the
offsets found are compared with the truth.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import random
import sqlite3
import statistics
import tempfile
import time
from pathlib import Path

from coach.page.server.clocks import BrowserClock, Exchange
from tests.page.people import Instructor, Phone, Served, served

RESTLESS_EVERY_S = 0.25


async def _room(
    server: Served, phones: int, lasts_s: float, spread_s: float
) -> tuple[list[float], int, int]:
    """Seconds from each tap to its acknowledgement; taps sent, and taps in the run."""
    waits: list[float] = []
    belong = sent = 0

    async def student(number: int, moments: list[float], over: asyncio.Event) -> None:
        nonlocal belong, sent
        there = (f"127.0.0.{2 + number // 40}", 0)  # from one address no more may join at once
        async with Phone(server.host, f"Student {number}", server.code, local=there) as phone:
            await phone.joined()
            joined.append(number)
            await go.wait()
            since = time.perf_counter()
            restless = number % 10 == 0
            times = sorted(lasts_s * share + random.gauss(0.0, spread_s) for share in moments)
            if restless:
                times = sorted([*times, *_every(RESTLESS_EVERY_S, lasts_s)])
            for at_s in times:
                await asyncio.sleep(max(0.0, since + at_s - time.perf_counter()))
                asked_s = time.perf_counter()
                tap = await phone.tap()
                sent += 1
                answer = await phone.until("tapped", number=tap)
                waits.append(time.perf_counter() - asked_s)
                belong += answer["time_s"] is not None
            await over.wait()
            await phone.until("own")

    joined: list[int] = []
    go, over = asyncio.Event(), asyncio.Event()
    async with Instructor(server.host, server.key) as instructor:
        ready = await instructor.ready()
        with server.client() as client:
            drawn = client.get(f"/api/rehearsals/{ready['rehearsal']}").json()
        start, end = drawn["flight_start_s"], drawn["length_s"]
        shares = [(one["position_s"] - start) / (end - start) for one in drawn["moments"]]
        shares = [round(share * 20) / 20 for share in [*shares, 0.1, 0.3, 0.5, 0.7, 0.9]]
        students = [
            asyncio.create_task(student(number, sorted(shares), over)) for number in range(phones)
        ]
        while len(joined) < phones:
            await asyncio.sleep(0.1)
        run = (await instructor.started())["run"]
        await instructor.heard(run, start + 1.0)
        await asyncio.sleep(0.2)
        go.set()
        await asyncio.sleep(lasts_s + 2.0)
        began = time.perf_counter()
        await instructor.control("stop")
        await instructor.until("room", state="finished")
        over.set()
        await asyncio.gather(*students)
        print(f"everybody's debrief after {time.perf_counter() - began:.1f} s")
    return waits, sent, belong


def _every(step_s: float, lasts_s: float) -> list[float]:
    return [step_s * number for number in range(int(lasts_s / step_s))]


def _used(process: int) -> tuple[float, float, float]:
    """Processor seconds so far, resident memory now and at most in MB (Linux)."""
    fields = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()
    status = dict(
        line.split(":", 1) for line in Path(f"/proc/{process}/status").read_text().splitlines()
    )
    now, most = (int(status[name].split()[0]) / 1024 for name in ("VmRSS", "VmHWM"))
    return (int(fields[11]) + int(fields[12])) / 100.0, now, most


def load(phones: int, lasts_s: float, spread_s: float) -> None:
    """Measure a full room."""
    with tempfile.TemporaryDirectory() as home, served(Path(home), "Load") as server:
        before = _used(server.process.pid)
        since = time.perf_counter()
        waits, sent, belong = asyncio.run(_room(server, phones, lasts_s, spread_s))
        took = time.perf_counter() - since
        after = _used(server.process.pid)
        with sqlite3.connect(Path(home, "logbook.sqlite3")) as db:
            (kept,) = db.execute("SELECT count(*) FROM taps").fetchone()
    waits.sort()
    print(f"{phones} phones for {lasts_s:g} s, each tap up to some {spread_s:g} s off its moment")
    print(
        f"{sent} taps sent, {len(waits)} acknowledged, {belong} in the run, {kept} in the logbook"
    )
    print(
        f"tap to acknowledgement: median {1000 * statistics.median(waits):.1f} ms, "
        f"99th percentile {1000 * waits[int(0.99 * len(waits))]:.1f} ms, "
        f"worst {1000 * waits[-1]:.1f} ms"
    )
    print(
        f"server: {after[0] - before[0]:.1f} s of processor in {took:.1f} s, "
        f"{before[1]:.0f} MB before, {after[2]:.0f} MB at most"
    )


async def _held_back(
    reader: asyncio.StreamReader,
    writer: asyncio.StreamWriter,
    chance: random.Random,
    least_s: float,
    jitter_s: float,
) -> None:
    """Pass on what comes, each piece later by the least delay and some jitter, in order."""
    last_s = 0.0
    loop = asyncio.get_running_loop()
    with contextlib.suppress(ConnectionError, asyncio.CancelledError):
        while part := await reader.read(65536):
            due_s = max(last_s, loop.time() + least_s + jitter_s * chance.expovariate(3.0))
            last_s = due_s
            loop.call_at(due_s, writer.write, part)
        await asyncio.sleep(max(0.0, last_s - loop.time()))
        writer.close()


EXCHANGES = 20
"""As many as a phone has had half a minute after it came in."""


async def _clock(out_s: float, back_s: float, jitter_s: float) -> BrowserClock:
    """A clock that is 1000 s ahead, learned through a proxy on loopback."""
    chance = random.Random(1)
    clock = BrowserClock()

    async def browser(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with contextlib.suppress(ConnectionError, asyncio.CancelledError):
            while await reader.readline():
                now_s = time.perf_counter() + 1000.0
                writer.write(f"{now_s!r} {time.perf_counter() + 1000.0!r}\n".encode())

    far = await asyncio.start_server(browser, "127.0.0.1", 0)
    far_port = far.sockets[0].getsockname()[1]

    async def between(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        on, off = await asyncio.open_connection("127.0.0.1", far_port)
        with contextlib.suppress(asyncio.CancelledError):
            await asyncio.gather(
                _held_back(reader, off, chance, out_s, jitter_s),
                _held_back(on, writer, chance, back_s, jitter_s),
            )

    proxy = await asyncio.start_server(between, "127.0.0.1", 0)
    port = proxy.sockets[0].getsockname()[1]
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    for _ in range(EXCHANGES):
        asked_s = time.perf_counter()
        writer.write(b"?\n")
        received, answered = (await reader.readline()).split()
        clock.learn(Exchange(asked_s, float(received), float(answered), time.perf_counter()))
        await asyncio.sleep(0.02)
    writer.close()
    for server in (proxy, far):
        server.close()
    return clock


async def clocks() -> None:
    """Measure how well clocks are known through delays."""
    ways = [
        (out_ms, back_ms, jitter_ms)
        for out_ms, back_ms in (
            (5, 5),
            (20, 20),
            (50, 50),
            (100, 100),
            (200, 200),
            (5, 50),
            (200, 5),
        )
        for jitter_ms in (0, 5, 50)
    ]
    found = await asyncio.gather(
        *(_clock(out / 1e3, back / 1e3, jitter / 1e3) for out, back, jitter in ways)
    )
    print(
        f"ms after {EXCHANGES} exchanges; way out, way back, jitter (a third of it on average): "
        "error of the offset, and the uncertainty told"
    )
    for (out, back, jitter), clock in zip(ways, found, strict=True):
        relation = clock.relation
        assert relation is not None
        error_ms = 1000 * (relation.offset_s - 1000.0)
        told_ms = 1000 * relation.uncertainty_s
        print(f"{out:4} {back:4} {jitter:4}: {error_ms:+8.2f} {told_ms:8.2f}")
        assert abs(error_ms) <= told_ms + 1.0


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--phones", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--spread", type=float, default=0.2, help="of fingers, in seconds")
    given = parser.parse_args()
    load(given.phones, given.seconds, given.spread)
    asyncio.run(clocks())
