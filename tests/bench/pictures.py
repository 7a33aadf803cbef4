"""How long a class waits for its pictures: ``python -m tests.bench.pictures [students]``.

A room flies, everybody taps every checkpoint, and all ask for their own picture at once; the
instructor asks for everybody's while they wait. As on a class's real pages, the instructor's has
shown the brief before.
"""

from __future__ import annotations

import asyncio
import sys
import tempfile
import time
from contextlib import AsyncExitStack
from pathlib import Path

import httpx
import psutil

from tests.page.people import Instructor, Phone, Served, served


def _processors_s(server: Served) -> float:
    """What the server and its processes have computed."""
    one = psutil.Process(server.process.pid)
    return sum(sum(each.cpu_times()[:2]) for each in (one, *one.children(recursive=True)))


async def measure(server: Served, students: int) -> None:
    """Print what they wait."""
    own = {"X-Coach-Key": server.key}
    async with AsyncExitStack() as stack:
        instructor = await stack.enter_async_context(Instructor(server.host, server.key))
        phones = []
        for number in range(students):
            phone = Phone(server.host, f"Student {number}", server.code)
            phones.append(await stack.enter_async_context(phone))
        tokens = [(await phone.joined())["token"] for phone in phones]
        client = await stack.enter_async_context(
            httpx.AsyncClient(base_url=f"http://{server.host}", timeout=120.0)
        )
        run = await instructor.flying(20.0)
        state = await instructor.until("room")
        await client.get(f"/api/rehearsals/{state['rehearsal']}/brief.svg", headers=own)
        ready = (await client.get(f"/api/rehearsals/{state['rehearsal']}", headers=own)).json()
        for moment in ready["moments"]:
            await instructor.heard(run, moment["position_s"])
            for phone in phones:
                await phone.tap()
        for phone in phones:
            await phone.until("tapped", number=phone.next - 1)
        await instructor.control("stop")
        shown = await instructor.until("room", state="finished")

        async def waits(path: str, key: str) -> float:
            since_s = time.perf_counter()
            answer = await client.get(path, headers={"X-Coach-Key": key})
            answer.raise_for_status()
            return time.perf_counter() - since_s

        for way in ("?upright", ""):
            computed_s = _processors_s(server)
            asked = [asyncio.create_task(waits(f"/own/picture.svg{way}", one)) for one in tokens]
            await asyncio.sleep(0.1)
            everybody_s = await waits(shown["picture"], server.key) if way else 0.0
            waited = await asyncio.gather(*asked)
            computed_s = _processors_s(server) - computed_s
            print(
                f"{students} pictures{' upright' * bool(way)}: the last after {max(waited):.2f} s, "
                f"of which processors computed {computed_s:.2f} s; "
                f"the instructor's, asked for meanwhile, after {everybody_s:.2f} s"
            )


def main() -> None:
    """Measure a class of 30, or of as many as are asked for."""
    students = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    with tempfile.TemporaryDirectory() as home, served(Path(home), "Class") as server:
        asyncio.run(measure(server, students))


if __name__ == "__main__":
    main()
