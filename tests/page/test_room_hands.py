"""A room whose students hold their phones as the airplane."""

from __future__ import annotations

import asyncio
import contextlib
import signal
from pathlib import Path
from typing import Any

import numpy as np

from coach.hand.grip import EASY
from coach.hand.motion import Motion
from coach.logbook.logbook import Logbook
from coach.logbook.run import Run
from coach.page.room.file import place
from tests.hand.simulated import Simulated, mounting
from tests.page.flown import plan as planned
from tests.page.flyers import EVERY_S, Flyer, apart, clocks_doubt_s
from tests.page.people import PATIENT_S, Instructor, Served, own_port, served

NAMES = ["Ada", "Bo", "Cleo", "Dag", "Eve", "Finn", "Gil", "Hana"]

LATE_S = 1.0
"""So much of the soundtrack is still to come when all that was flown is sent."""


def ran(story: Any) -> None:
    asyncio.run(asyncio.wait_for(story, 3 * PATIENT_S))


def plan(server: Served, rehearsal: str) -> tuple[Motion, float, float]:
    """What is flown, when that begins on the soundtrack, and how long that is."""
    with server.client() as client:
        drawn = client.get(f"/api/rehearsals/{rehearsal}").json()
    return planned(drawn), drawn["flight_start_s"], drawn["length_s"]


def runs_of(home: Path) -> dict[str, Run]:
    """Everybody's run, of which each has one."""
    with Logbook(home / "logbook.sqlite3") as book:
        runs = book.runs()
    assert len({run.student for run in runs}) == len(runs)
    return {run.student: run for run in runs}


def is_what_was_flown(run: Run, hand: Simulated) -> None:
    """All of it is there, from just before the first moment, where it was and as it was."""
    times, doubt_s = np.array(run.motion.time_s), clocks_doubt_s(run)
    assert times[0] < -0.9 and times[-1] > hand.plan.time_s[-1] - 0.1 - doubt_s
    # Where a clock is known better from then on, times may step by as much.
    assert np.diff(times).min() > 0.0
    assert np.diff(times).max() < 3.0 / hand.rate_hz + 2.0 * doubt_s
    for off in apart(run, hand):
        assert abs(np.median(off)) < 1.0, "the fresh level is that of an unsteady hand"
        assert np.percentile(np.abs(off - np.median(off)), 95) < 0.5


def test_eight_hands_fly_together_and_one_that_drops_comes_back_with_all_it_read(
    blue: Served, home: Path
) -> None:
    hands: dict[str, Simulated] = {}
    grips = {name: mounting(seed) if seed % 2 else EASY for seed, name in enumerate(NAMES)}
    with Logbook(home / "logbook.sqlite3") as book:
        for name, grip in grips.items():  # as it was shown the last time
            book.keep_grip(name, f"phone of {name}", grip)

    async def flies(phone: Flyer, began_s: float) -> None:
        name = phone.first["name"]
        phone.read(hands[name], hands[name].times_s, began_s)
        await phone.send(12)
        if name != "Cleo":
            await phone.send()
            await phone.all_kept()
            return
        token = (await phone.until("welcome"))["token"]
        await phone.__aexit__(None, None, None)
        async with Flyer(phone.host, token=token, ahead_s=-77.0) as again:  # its page is another
            again.unsent = [
                (at_s - phone.ahead_s + again.ahead_s, one) for at_s, one in phone.untaken()
            ]
            await again.again()
            await again.send()
            await again.all_kept()

    async def story() -> None:
        async with contextlib.AsyncExitStack() as there:
            instructor = await there.enter_async_context(Instructor(blue.host, blue.key))
            ready = await instructor.ready()
            flown, start_s, length_s = await asyncio.to_thread(plan, blue, ready["rehearsal"])
            phones = []
            for seed, name in enumerate(NAMES):
                hands[name] = Simulated(flown, seed, rate_hz=[50.0, 30.0][seed % 2], noise_deg=0.2)
                phone = Flyer(blue.host, name, blue.code, grip=grips[name], ahead_s=100.0 * seed)
                phones.append(await there.enter_async_context(phone))
            await asyncio.gather(*(one.held() for one in phones))
            run = (await instructor.started())["run"]
            here = instructor.clock_s()
            await instructor.heard(run, length_s - LATE_S, at_s=here)
            began_s = here - (length_s - LATE_S - start_s)
            await asyncio.gather(*(flies(one, began_s) for one in phones))
            while not all(
                one["hand"] for one in (await instructor.until("roster"))["students"]
            ):  # which is told twice a second
                await asyncio.sleep(EVERY_S)
            await instructor.heard(run, length_s, at_s=here + LATE_S)
            picture = (await instructor.until("room", state="finished"))["picture"]
            own = await phones[0].until("own")
            assert own["debrief"]["run"]["ended"] == "finished"
            with blue.client() as client:
                hidden = client.get(picture).text
                await instructor.control("show")
                shown = client.get((await instructor.until("room", names_shown=True))["picture"])
            assert "svg" in hidden and len(hidden) < len(shown.text)

    ran(story())
    runs = runs_of(home)
    assert sorted(runs) == NAMES
    for name, run in runs.items():
        is_what_was_flown(run, hands[name])


def test_nothing_that_a_hand_flew_is_lost_while_the_coach_is_killed_and_started_again(
    home: Path,
) -> None:
    port = own_port()
    first = Served(home, "Amber", port)
    hands: list[Simulated] = []

    async def before() -> tuple[Flyer, float, float, int]:
        async with Instructor(first.host, first.key) as instructor:
            ready = await instructor.ready()
            flown, start_s, length_s = await asyncio.to_thread(plan, first, ready["rehearsal"])
            hands.append(Simulated(flown, 1, noise_deg=0.2))
            async with Flyer(first.host, "Ada", first.code) as ada:
                await ada.held()
                run = int((await instructor.started())["run"])
                here = instructor.clock_s()
                await instructor.heard(run, length_s - LATE_S, at_s=here)
                began_s = here - (length_s - LATE_S - start_s)
                ada.read(hands[0], hands[0].times_s, began_s)
                await ada.send(12)
                while not (file := place("Amber")).exists() or '"grip"' not in file.read_text():
                    await asyncio.sleep(EVERY_S)
                await ada.all_kept()
                await ada.send(4)  # which are on their way to the disk
                first.end(signal.SIGKILL)
        return ada, here, length_s, run

    async def after(back: Served, ada: Flyer, here: float, length_s: float, run: int) -> None:
        token = (await ada.until("welcome"))["token"]
        async with (
            Instructor(back.host, back.key, sounding=True) as instructor,
            Flyer(back.host, token=token) as again,
        ):
            again.unsent = ada.untaken()
            await again.again()
            await again.send()  # before the loudspeaker, and the rehearsal, are there again
            await instructor.until("settled")
            while not (await instructor.until("room"))["rehearsal"]:
                await asyncio.sleep(EVERY_S)
            await instructor.heard(run, length_s - LATE_S, at_s=here)
            await again.all_kept()
            await instructor.heard(run, length_s, at_s=here + LATE_S)
            await instructor.until("room", state="finished")
            await again.until("own")

    ada, here, length_s, run = asyncio.run(asyncio.wait_for(before(), 2 * PATIENT_S))
    with served(home, "Amber", port) as back:
        ran(after(back, ada, here, length_s, run))
    is_what_was_flown(runs_of(home)["Ada"], hands[0])
