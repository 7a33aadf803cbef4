"""A phone in the hand in a real browser: joined, learned, flown, lost and back."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import Any

import pytest
from playwright.sync_api import Browser, expect

from coach.hand.grip import Grip
from coach.hand.readings import NONE, Readings
from coach.hand.watching import TROUBLES
from coach.page.hand.grips import Grips
from coach.page.hand.pairing import Pairing
from tests.page.browsing import SIDEWAYS, watched
from tests.page.people import PATIENT_S
from tests.page.phones import HandPage, HandServed, Remembered, behind_s, hand_served, waved
from tests.page.validity import Screens

ON_ITS_SIDE = Grip(nose=(1.0, 0.0, 0.0), top=(0.0, 0.0, 1.0))
"""Its right edge is the nose."""

SLEPT_S = 5.0

SLEPT = f"""
  const now = performance.now.bind(performance);
  performance.now = () => now() - {1000.0 * SLEPT_S};
"""
"""The page's clock stood while the phone slept."""

AWAY = """
  Object.defineProperty(document, "hidden", {get: () => true});
  document.dispatchEvent(new Event("visibilitychange"));
"""
"""The page is in the background."""

WAY_S = 0.1
"""A reading is put on this machine's clock within this of when the sensor was set."""

MOST = 0.3
"""So large a share of what is set is read at least: a browser tells sixty a second, less if busy."""


@pytest.fixture
def pairing() -> Pairing:
    return Pairing(Grips(Remembered()))


@pytest.fixture
def served(pairing: Pairing) -> Iterator[HandServed]:
    with hand_served(pairing) as one:
        yield one


def held_until(phone: HandPage, so: Callable[[], bool]) -> None:
    """Hold it until that is so."""
    patient_until_s = time.monotonic() + PATIENT_S
    while not so():
        assert time.monotonic() < patient_until_s
        phone.hold(for_s=0.1)


def all_read(phone: HandPage, pairing: Pairing) -> Readings:
    """What came, once all has that was read until now: the oldest is sent first."""
    read, now_s = NONE, time.perf_counter()

    def came() -> bool:
        nonlocal read
        for one in pairing.readings():
            read = read.joined(one)
        return bool(len(read)) and read.at_s[-1] > now_s

    held_until(phone, came)
    return read


def test_a_phone_is_shown_how_it_sits_flies_is_lost_and_comes_back_with_all_it_read(
    browser: Browser, pairing: Pairing, served: HandServed, record_property: Any
) -> None:
    found, phone = Screens(), HandPage(browser)
    phone.grip = ON_ITS_SIDE
    page = phone.page
    complaints = watched(page)
    page.goto(f"{served.address}/hand#{pairing.code}")
    found.look("hand joins", page)
    page.click("#join-form button")
    phone.hold(for_s=0.5)
    expect(page.locator("#state")).to_have_text("Joined")

    page.click("#learn")
    found.look("hand learns", page)
    for name, pitch_deg, bank_deg in (("Level", 0, 0), ("Nose up", 45, 0), ("Bank right", 0, 45)):
        expect(page.locator("#state")).to_have_text(name)
        phone.hold(pitch_deg, bank_deg, 1.2)
        page.click("#held")
    expect(page.locator("#hint")).to_contain_text("right edge is the nose")
    phone.hold(10, -20, 0.5)
    expect(page.locator("#attitude")).to_contain_text("left")
    page.set_viewport_size(SIDEWAYS)
    phone.hold(10, -20, 0.5)
    expect(page.locator("#learn")).to_be_in_viewport(ratio=1)

    pairing.move("flying")
    phone.hold(for_s=0.4)
    expect(page.locator("#state")).to_have_text("Flying")
    expect(page.locator("#figure")).to_be_hidden()
    pairing.readings()
    flown = phone.fly(waved, 1.2)
    served.cut()
    flown += phone.fly(lambda s: waved(s + 1.2), 0.5)
    page.wait_for_timeout(50)  # until the last one was read
    expect(page.locator("#state")).to_have_text("Lost")
    assert pairing.state == "lost"
    page.reload()  # as a phone does that was put away for a while
    served.away = False
    pairing.move("over")
    held_until(phone, lambda: pairing.state != "lost")
    expect(page.locator("#state")).to_have_text("Finished")

    read = all_read(phone, pairing)
    at_s = read.at_s
    _, banked_deg = pairing.grip.attitude(read.up)
    assert all(before < after for before, after in pairwise(at_s))
    while_flown = at_s[(at_s > flown[0][0]) & (at_s < flown[-1][0])]
    record_property("turned", len(flown))
    record_property("read", len(while_flown))
    assert len(while_flown) > MOST * len(flown)
    late_s = behind_s(flown, at_s, banked_deg)
    record_property("behind_s", late_s)
    assert abs(late_s) < WAY_S
    assert not [one for one in complaints if "WebSocket" not in one]
    found.are_valid()


def test_what_a_phone_read_before_its_clock_stood_is_not_put_where_it_woke(
    browser: Browser, pairing: Pairing, served: HandServed
) -> None:
    phone = HandPage(browser)
    phone.join(served.address, pairing.code)
    phone.hold(for_s=0.5)
    expect(phone.page.locator("#state")).to_have_text("Joined")
    served.cut()
    expect(phone.page.locator("#state")).to_have_text("Lost")
    pairing.readings()
    flown = phone.fly(waved, 0.8)
    phone.page.evaluate(SLEPT)
    served.away = False
    held_until(phone, lambda: pairing.state != "lost")
    read = all_read(phone, pairing)
    then = (read.at_s > flown[0][0]) & (read.at_s < flown[-1][0])
    assert then.sum() > MOST * len(flown)
    _, bank_deg = pairing.grip.attitude(read.up)
    assert abs(behind_s(flown, read.at_s, bank_deg)) < WAY_S


def test_a_phone_that_tells_nothing_is_told_why(
    browser: Browser, pairing: Pairing, served: HandServed
) -> None:
    none = HandPage(browser, sensor=False)
    none.join(served.address, pairing.code)
    expect(none.page.locator("#trouble")).to_have_text(TROUBLES["no sensor"].sentence)
    refused = HandPage(browser)
    refused.permit(sensors=False)
    refused.join(served.address, pairing.code)
    expect(none.page.locator("#trouble")).to_have_text(TROUBLES["taken over"].sentence)
    expect(refused.page.locator("#trouble")).to_have_text(TROUBLES["refused"].sentence)
    assert pairing.trouble == TROUBLES["refused"].sentence
    expect(refused.page.locator("#allow")).to_be_visible()
    refused.permit(sensors=True)
    refused.page.click("#allow")
    refused.hold(for_s=0.5)
    expect(refused.page.locator("#trouble")).to_be_empty()
    held_until(refused, lambda: bool(pairing.readings()))
    refused.page.evaluate(AWAY)
    expect(refused.page.locator("#trouble")).to_have_text(TROUBLES["hidden"].sentence)
