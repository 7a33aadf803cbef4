"""Phones of a room in real browsers: how they come to be secure, and fly as the airplane."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Error, expect

from coach.hand.motion import Motion
from coach.logbook.logbook import Logbook
from coach.page.server.accepting import STEPS, UNTRIED
from coach.page.server.reach import addresses
from coach.problems import Problem
from tests.page.browsing import (
    OWN_CLOCK,
    PHONE,
    accessible,
    choose,
    fresh,
    opened,
    watched,
    with_a_kite,
)
from tests.page.people import Served, served
from tests.page.phones import Flown
from tests.page.validity import Screens


@pytest.fixture
def lan(new_home: Callable[[], Path]) -> Iterator[Served]:
    try:
        addresses()
    except Problem as problem:
        pytest.skip(str(problem))
    with served(with_a_kite(new_home()), "Lan", lan=True) as server:
        yield server


def flown(server: Served) -> Motion:
    """What is kept of the only run."""
    with Logbook(server.home / "logbook.sqlite3") as book:
        (run,) = book.runs()
    return run.motion


def test_the_rooms_screen_says_how_a_phone_accepts_the_certificate(
    browser: Browser, lan: Served
) -> None:
    page = opened(browser, lan)
    complaints = watched(page)
    expect(page.locator("#address")).to_have_text(f"https://{lan.secure}")
    told = page.locator("#warns")
    for words in (*STEPS, UNTRIED, f"http://{lan.reach}"):
        expect(told).to_contain_text(words)
    assert page.locator("#warns .fingerprint").inner_text() in lan.said
    picture = page.locator("#warns img")
    expect(picture).to_be_visible()
    assert picture.evaluate("one => one.complete && one.naturalWidth") > 0
    assert accessible(page)
    assert not complaints
    page.context.close()


def test_a_phone_is_secure_once_it_has_accepted_the_certificate_and_not_before(
    browser: Browser, lan: Served
) -> None:
    wary = fresh(browser, viewport=PHONE)
    with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
        wary.goto(f"https://{lan.secure}/join")
    wary.context.close()
    phone = fresh(browser, viewport=PHONE, ignore_https_errors=True)
    for address, secure in ((f"https://{lan.secure}", True), (f"http://{lan.reach}", False)):
        phone.goto(f"{address}/join")
        assert phone.evaluate("isSecureContext") is secure
        # Attitude is for secure pages alone.
        assert phone.evaluate("'RelativeOrientationSensor' in window") is secure
    phone.context.close()


def test_a_phone_goes_on_over_a_secure_connection_and_flies_as_the_airplane(
    browser: Browser, lan: Served
) -> None:
    found = Screens()
    lead = opened(browser, lan, OWN_CLOCK)
    hand = Flown(browser)
    phone = hand.page
    complaints = watched(lead), watched(phone)
    phone.goto(f"http://{lan.reach}/join#{lan.code}")
    phone.fill("input[name=name]", "Robin")
    phone.click("#join-form button")
    expect(phone.locator("#hold")).to_be_hidden()
    phone.click("#secure summary")
    expect(phone.locator("#secure .accept")).to_be_visible()
    found.look("phone is told where it is secure", phone)
    phone.click("#secure a")
    expect(phone.locator("#who")).to_have_text("Robin")  # in the same place, without a code
    assert phone.url == f"https://{lan.secure}/join"
    phone.goto(f"https://{lan.secure}/join#as=somebody-else")  # whatever others send it
    phone.reload()
    expect(phone.locator("#who")).to_have_text("Robin")
    hand.hold(10.0, 20.0)
    phone.click("#hold")
    expect(phone.locator("#attitude")).to_have_text(
        re.compile(r"^nose (9|10|11)° up, bank (19|20|21)° right$")
    )
    expect(lead.locator("#roster")).to_contain_text("flies by hand")
    found.look("phone held", phone)
    phone.click("#learn")
    expect(phone.locator("#state")).to_have_text("Level")
    phone.click("#easy")
    hand.hold()
    choose(lead, "quick-turn", "tones", loops="4")
    lead.click("#choice button.large")
    lead.click("#start")
    expect(phone.locator("#state")).to_have_text("Flying")
    expect(phone.locator("#attitude")).to_be_hidden()
    hand.hold(0.0, 30.0)
    lead.wait_for_timeout(3000)  # past the first checkpoint: no false start
    lead.click("#stop")
    expect(lead.locator("#picture img")).to_be_visible()
    expect(phone.locator("#state")).to_have_text("Your debrief")
    expect(phone.locator("#holds")).to_be_hidden()
    while max(flown(lan).bank_deg, default=0.0) < 27.0:  # a slow phone sends it later
        phone.wait_for_timeout(100)
    assert complaints == ([], [])
    hand.context.close()
    lead.context.close()
    motion = flown(lan)
    assert max(motion.bank_deg) == pytest.approx(30.0, abs=3.0)
    assert max(map(abs, motion.pitch_deg)) < 4.0
    found.are_valid()
