"""Promises of who is the hand of a rehearsal: by its code, one phone at a time, and back by itself."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Coroutine, Iterator
from typing import Any

import pytest

from coach.hand.grip import EASY, Grip
from coach.hand.watching import TROUBLES
from coach.page.hand.grips import Grips
from coach.page.hand.pairing import Pairing, State
from tests.page.people import PATIENT_S, Person
from tests.page.phones import Remembered, hand_served, quaternion

SIDEWAYS = Grip(nose=(0.0, 0.0, -1.0), top=(1.0, 0.0, 0.0), quality_deg=2.0)


@pytest.fixture
def remembered() -> Remembered:
    return Remembered(sideways=SIDEWAYS)


@pytest.fixture
def pairing(remembered: Remembered) -> Pairing:
    return Pairing(Grips(remembered))


@pytest.fixture
def host(pairing: Pairing) -> Iterator[str]:
    with hand_served(pairing) as served:
        yield served.address.removeprefix("http://")


def phone(host: str, code: str = "", token: str = "", phone: str = "one", **own: Any) -> Person:
    """A phone that comes to the hand's page."""
    first = {"type": "come", "code": code, "token": token, "phone": phone}
    return Person(host, "/ws/hand", first, **own)


async def holds(one: Person, number: int, bank_deg: float = 0.0) -> float:
    """It reads once, and the server has taken it; when that was."""
    at_s = one.clock_s()
    turned = list(quaternion(0.0, bank_deg).values())
    await one.say(type="held", number=number, at_s=[at_s], quaternions=[turned])
    await one.until("kept", number=number)
    return at_s - one.ahead_s


def played(story: Callable[[], Coroutine[Any, Any, None]]) -> None:
    """A story, which ends by itself."""
    asyncio.run(asyncio.wait_for(story(), 2 * PATIENT_S))


async def until(pairing: Pairing, state: State) -> None:
    """Once the hand stands there."""
    while pairing.state != state:
        await asyncio.sleep(0.01)


def test_a_phone_with_the_code_is_the_hand_and_what_it_reads_is_on_this_machines_clock(
    host: str, pairing: Pairing
) -> None:
    async def story() -> None:
        assert (pairing.state, pairing.joined) == ("awaited", False)
        async with phone(host, pairing.code, ahead_s=77.0) as one:
            await one.until("settled")
            assert (await one.until("holding"))["state"] == pairing.state == "joined"
            at_s = await holds(one, 1, bank_deg=30.0)
            (readings,) = pairing.readings()
            assert readings.at_s == pytest.approx([at_s], abs=0.05 + pairing.doubt_s)
            assert pairing.grip.attitude(readings.up)[1] == pytest.approx([30.0])
            assert pairing.readings() == []
            pairing.move("flying")
            await one.until("holding", state="flying")
        await until(pairing, "lost")
        assert pairing.trouble == TROUBLES["gone"].sentence

    played(story)


def test_a_wrong_code_is_told_and_whoever_guesses_on_has_to_wait(
    host: str, pairing: Pairing
) -> None:
    async def story() -> None:
        why = [""]
        since_s = time.perf_counter()
        while "Too many wrong codes: wait" not in why[-1]:
            async with phone(host, "x") as one:
                why.append((await one.until("refused"))["why"])
        assert all("not this rehearsal's code" in one for one in why[1:-1])
        # Five of its own, sixty of all, and what comes back of both meanwhile.
        took_s = time.perf_counter() - since_s
        assert 5 < len(why) - 2 <= 65 + took_s / 10 + took_s / 600
        assert not pairing.joined

    played(story)


def test_a_second_phone_takes_over_with_the_code_alone_and_the_first_is_told(
    host: str, pairing: Pairing
) -> None:
    async def story() -> None:
        async with phone(host, pairing.code) as first:
            token = (await first.until("welcome"))["token"]
            await first.until("settled")
            await holds(first, 1)
            async with phone(host, "x", token="x", phone="two") as guess:
                assert not (await guess.until("refused"))["gone"]
            async with phone(host, pairing.code, phone="two") as second:
                assert (await first.until("refused"))["why"] == TROUBLES["taken over"].sentence
                assert (await second.until("welcome"))["token"] != token
                await second.until("settled")
                await holds(second, 1)
                async with phone(host, token=token) as late:
                    assert "enter its code" in (await late.until("refused"))["why"]
                assert pairing.state == "joined"
        assert len(pairing.readings()) == 2

    played(story)


def test_who_comes_back_is_told_what_was_taken_and_nothing_is_taken_twice(
    host: str, pairing: Pairing
) -> None:
    async def story() -> None:
        async with phone(host, pairing.code) as one:
            token = (await one.until("welcome"))["token"]
            assert (await one.until("kept"))["number"] == 0
            await one.until("settled")
            await holds(one, 1)
            await holds(one, 2)
        # A clock that began anew with the page.
        async with phone(host, token=token, ahead_s=-1000.0) as back:
            assert (await back.until("kept"))["number"] == 2
            await back.until("settled")
            await holds(back, 3)
        times = [at_s for one in pairing.readings() for at_s in one.at_s]
        assert len(times) == 3
        assert times == sorted(times)
        assert times[-1] - times[0] < 100.0

    played(story)


def test_the_same_phone_on_another_page_goes_on_there(host: str, pairing: Pairing) -> None:
    async def story() -> None:
        async with phone(host, pairing.code) as one:
            token = (await one.until("welcome"))["token"]
            async with phone(host, token=token) as other:
                await other.until("settled")
                await one.until_closed()
                assert pairing.state == "joined"

    played(story)


def test_how_a_phone_is_held_is_known_again_and_kept_when_it_changes(
    host: str, pairing: Pairing, remembered: Remembered
) -> None:
    async def story() -> None:
        async with phone(host, pairing.code, phone="sideways") as one:
            assert "the poses agree" in (await one.until("holding"))["hint"]
            assert pairing.grip == SIDEWAYS
            await one.say(type="hold", do="easy")
            while remembered.held["sideways"] != EASY:
                await asyncio.sleep(0.01)
            remembered.full = True
            await one.say(type="hold", do="easy")
            assert (await one.until("note"))["text"] == "The disk is full."
            await one.say(type="hold", do="learn")
            await one.until("holding", state="learning", pose="level")
            assert pairing.state == "learning"
            await one.say(type="hold", do="leave")
            assert (await one.until("refused"))["again"]
            assert not pairing.joined

    played(story)


def test_what_is_no_message_closes_the_connection_and_the_next_one_is_fine(
    host: str, pairing: Pairing
) -> None:
    async def story() -> None:
        for spoilt in ({"type": "held"}, {"type": "hold", "do": "fly"}, {"type": "sensing"}):
            async with phone(host, pairing.code) as one:
                await one.until("welcome")
                await one.say(**spoilt)
                await one.until_closed()
                assert one.closed == 1008
        async with phone(host, pairing.code) as one:
            await one.until("welcome")

    played(story)
