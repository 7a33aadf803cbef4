"""A phone in the hand in a real browser: joined, learned, flown, lost and back."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from coach.hand.attitude import readings
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

OFF_S = 0.03
"""A reading is put on this machine's clock within this of when the browser stamped it, beside the
doubt that the clocks leave."""

MOST = 0.5
"""So large a share of what the browser tells is read at least; it tells two sensors apart."""

_WITNESS = """
  window.witnessed = [];
  const sensor = new RelativeOrientationSensor({frequency: 60});
  sensor.onreading = () =>
    witnessed.push([performance.timeOrigin + sensor.timestamp, ...sensor.quaternion]);
  sensor.start();
"""


@pytest.fixture
def pairing() -> Pairing:
    return Pairing(Grips(Remembered()))


@pytest.fixture
def served(pairing: Pairing) -> Iterator[HandServed]:
    with hand_served(pairing) as one:
        yield one


def held_until(
    phone: HandPage, so: Callable[[], bool], pitch_deg: float = 0.0, bank_deg: float = 0.0
) -> None:
    """Hold it like that until that is so."""
    patient_until_s = time.monotonic() + PATIENT_S
    while not so():
        assert time.monotonic() < patient_until_s
        phone.hold(pitch_deg, bank_deg, 0.1)


def all_read(
    phone: HandPage, pairing: Pairing, pitch_deg: float = 0.0, bank_deg: float = 0.0
) -> Readings:
    """What came, once all has that was read until now: the oldest is sent first."""
    read, now_s = NONE, time.perf_counter()

    def came() -> bool:
        nonlocal read
        for one in pairing.readings():
            read = read.joined(one)
        return bool(len(read)) and read.at_s[-1] > now_s

    held_until(phone, came, pitch_deg, bank_deg)
    return read


class Witness:
    """A sensor beside the page's own: a busy browser tells late, and seldom, what was set."""

    def __init__(self, page: Page) -> None:
        self._page = page
        page.evaluate(_WITNESS)

    def told(self) -> Readings:
        """What it has told, each stamped by the browser, on `time.perf_counter`."""
        rows = np.array(self._page.evaluate("witnessed")).reshape(-1, 5)
        at_s = rows[:, 0] / 1000.0 - (time.time() - time.perf_counter())
        return readings(at_s.tolist(), rows[:, 1:].tolist(), [])


def as_told(
    read: Readings,
    witnessed: Readings,
    flown: list[tuple[float, float, float]],
    pairing: Pairing,
) -> dict[str, float]:
    """What was flown was read, as much of it and when the browser told it."""
    many, behind = {}, {}
    for name, one in (("read", read), ("told", witnessed)):
        then = (one.at_s > flown[0][0]) & (one.at_s < flown[-1][0])
        many[name] = int(then.sum())
        behind[name] = behind_s(flown, one.at_s, pairing.grip.attitude(one.up)[1])
    assert many["read"] > MOST * many["told"] > 0, many
    assert abs(behind["read"] - behind["told"]) < OFF_S + pairing.doubt_s, behind
    return {**many, "behind_s": behind["read"]}


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
    page.click("#learn")  # begin again: while it was looked at it may have been still for long
    for name, pitch_deg, bank_deg in (("Level", 0, 0), ("Nose up", 45, 0), ("Bank right", 0, 45)):
        expect(page.locator("#state")).to_have_text(name)
        phone.hold(pitch_deg, bank_deg, 1.2)
        all_read(phone, pairing, pitch_deg, bank_deg)  # or it was not held for long enough
        page.locator("#held").dispatch_event("click")  # where it took long, it is taken already
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
    witness = Witness(page)
    pairing.readings()
    flown = phone.fly(waved, 1.2)
    served.cut()
    flown += phone.fly(lambda s: waved(s + 1.2), 0.5)
    page.wait_for_timeout(50)  # until the last one was read
    expect(page.locator("#state")).to_have_text("Lost")
    assert pairing.state == "lost"
    witnessed = witness.told()
    page.reload()  # as a phone does that was put away for a while
    served.away = False
    pairing.move("over")
    held_until(phone, lambda: pairing.state != "lost")
    expect(page.locator("#state")).to_have_text("Finished")

    read = all_read(phone, pairing)
    assert all(before < after for before, after in pairwise(read.at_s))
    for name, value in as_told(read, witnessed, flown, pairing).items():
        record_property(name, value)
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
    witness = Witness(phone.page)
    pairing.readings()
    flown = phone.fly(waved, 0.8)
    phone.page.evaluate(SLEPT)
    served.away = False
    held_until(phone, lambda: pairing.state != "lost")
    read = all_read(phone, pairing)
    as_told(read, witness.told(), flown, pairing)


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
