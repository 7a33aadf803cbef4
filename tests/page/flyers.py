"""Plain WebSocket clients that hold a phone as the airplane in a room, as its page does."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import Any

import numpy as np

from coach.hand.grip import EASY, Grip
from coach.hand.readings import Floats
from coach.logbook.run import Run
from coach.page.hand.messages import MOST_READINGS
from coach.rehearsal.moving import SENSOR_DOUBT_S, SENSOR_S
from tests.hand.simulated import Simulated
from tests.page.people import PATIENT_S, Phone

EVERY_S = 0.05
"""How often a phone may send; its page does so half as often."""


def clocks_doubt_s(run: Run) -> float:
    """How far the times of what was flown may be off by what clocks were known, as it was kept.

    On loopback that is some milliseconds; where answers came late, as much as they were late.
    """
    return run.motion.doubt_s - SENSOR_DOUBT_S


def apart(run: Run, hand: Simulated) -> list[Floats]:
    """How far off pitch and bank were kept, degrees, beyond what the clocks' doubt explains."""
    times, doubt_s = np.array(run.motion.time_s) + SENSOR_S, clocks_doubt_s(run)
    around = [hand.attitude(times + doubt_s * part) for part in (-1.0, -0.5, 0.0, 0.5, 1.0)]
    found = (run.motion.pitch_deg, run.motion.bank_deg)
    return [
        one - np.clip(one, np.min(flown, axis=0), np.max(flown, axis=0))
        for one, flown in zip(map(np.array, found), zip(*around, strict=True), strict=True)
    ]


class Flyer(Phone):
    """A phone in somebody's hand. What it reads is kept until it has been taken.

    Attributes:
        grip: how it is held.
        unsent: (when, on its own clock; quaternion) of what was read and is not sent yet.
    """

    def __init__(
        self, host: str, name: str = "", code: str = "", grip: Grip = EASY, **own: Any
    ) -> None:
        super().__init__(host, name, code, **own)
        self.grip = grip
        self.unsent: list[tuple[float, Sequence[float]]] = []
        self.number = 0
        self.sent: dict[int, list[tuple[float, Sequence[float]]]] = {}

    async def held(self, do: str = "come") -> None:
        """It is in, it is a hand, and may send."""
        await self.until("welcome")
        await self.say(type="hold", do=do, phone=f"phone of {self.first['name']}")
        await self.again()

    async def again(self) -> None:
        """What was taken already is known, once it is connected as a hand; the rest is to come."""
        self.number = (await self.until("kept"))["number"]
        await self.until("settled")

    def read(self, hand: Simulated, flown_s: Floats, began_s: float) -> None:
        """Read the sensor at these seconds of a flight which began on `time.perf_counter` then."""
        turned = hand.quaternions(flown_s, self.grip)
        for at_s, one in zip(flown_s.tolist(), turned.tolist(), strict=True):
            self.unsent.append((began_s + at_s + self.ahead_s, one))

    async def send(self, most: int = 10**9) -> None:
        """Send what was read, so many messages at most, no faster than a phone does."""
        while self.unsent and most:
            batch, self.unsent = self.unsent[:MOST_READINGS], self.unsent[MOST_READINGS:]
            self.number += 1
            self.sent[self.number] = batch
            await self.say(
                type="held",
                number=self.number,
                at_s=[round(at_s, 4) for at_s, _ in batch],
                quaternions=[[round(part, 5) for part in one] for _, one in batch],
            )
            most -= 1
            if self.unsent and most:
                await asyncio.sleep(EVERY_S)

    def untaken(self) -> list[tuple[float, Sequence[float]]]:
        """What the room has not said it took, and what was not sent."""
        kept = (self.last("kept") or {"number": 0})["number"]
        sent = [one for number, batch in self.sent.items() if number > kept for one in batch]
        return [*sent, *self.unsent]

    async def all_kept(self) -> None:
        """Once all that was sent is on disk."""
        while (self.last("kept") or {"number": 0})["number"] < self.number:
            assert self.closed is None, f"closed with {self.closed}, told {self.told[-3:]}"
            self.news.clear()
            await asyncio.wait_for(self.news.wait(), PATIENT_S)
