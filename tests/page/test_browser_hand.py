"""A student alone flies with a phone: the coach's page in one browser, the phone's in another.

The sound's clock and the phone's sensor keep time however busy the machine is; what real ones do is
for `tests.page.test_heard`, `tests.page.test_browser_phone` and `tests.bench.whole_way`.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from coach.logbook.logbook import Logbook
from coach.page.server.reach import addresses
from coach.problems import Problem
from tests.hand.simulated import Simulated, more_bank
from tests.page.browsing import (
    DESK,
    OWN_CLOCK,
    PHONE,
    SIDEWAYS,
    choose,
    opened,
    watched,
    with_a_kite,
)
from tests.page.flown import Listener, plan
from tests.page.people import served
from tests.page.phones import Flown
from tests.page.validity import Screens

HALF_WAY_DEG = 39
"""Of bank, which belongs there."""

TOO_STEEP_DEG = 11.0

_DRAWN = f"""() => {{
  const turned = document.querySelector(".ghost > g")?.getAttribute("transform") ?? "";
  return Math.abs(Number(/rotate\\(([^)]*)\\)/.exec(turned)?.[1]) - {TOO_STEEP_DEG}) < 3;
}}"""
"""The own nose is drawn by so much steeper than the planned one."""


def joined(page: Page, browser: Browser) -> Flown:
    """A phone that comes in by what the page shows, held as the airplane."""
    page.click("#hand-open")
    expect(page.locator("#hand-picture img")).to_be_visible()
    address = page.locator("#hand-address").inner_text()
    code = page.locator("#hand-code").inner_text().replace(" ", "")
    phone = Flown(browser)
    phone.page.goto(f"{address}#{code}")
    phone.hold()
    phone.page.click("#join-form button")
    expect(page.locator("#hand-state")).to_have_text("Your phone is in: it is the airplane.")
    expect(page.locator("#hand-joining")).not_to_have_attribute("open", "")
    return phone


def test_the_page_shows_what_the_hand_does_and_its_debrief_says_what_it_did(
    browser: Browser, home: Path, record_property: Any
) -> None:
    try:
        addresses()
    except Problem as problem:
        pytest.skip(str(problem))
    found = Screens()
    with served(with_a_kite(home)) as server:
        page = opened(browser, server, OWN_CLOCK)
        complaints, listener = watched(page), Listener(page)
        phone = joined(page, browser)
        page.locator("#hand-joining summary").first.press("Enter")
        found.look("a phone may come in", page)
        choose(
            page, "quick-turn", "everything", loops="4"
        )  # of which a busy machine has time for one
        with page.expect_response("**/api/rehearsals") as answer:
            page.locator("#choice button.large").press("Enter")
            expect(page.locator("#board img")).to_be_visible()
        expect(page.locator("#brief #hand-state")).to_be_visible()
        with server.client() as client:
            rehearsal = client.get(f"/api/rehearsals/{answer.value.json()['id']}").json()

        half_s = rehearsal["moments"][1]["time_s"]
        error = more_bank(half_s, TOO_STEEP_DEG, over_s=10.0)
        hand = Simulated(plan(rehearsal), 1, (error,), noise_deg=0.5, delay_s=0.0)
        phone.learn(hand)
        page.locator("#start").press("Enter")
        listener.until(rehearsal, -2.0)
        phone.fly(listener.began_s(rehearsal) or 0.0)
        expect(phone.page.locator("#state")).to_have_text("Flying")
        page.wait_for_function(_DRAWN)
        listener.until(rehearsal, half_s + 1.0)
        page.locator("#stop").press("Enter")
        expect(page.locator("#judged img")).to_be_visible()
        expect(phone.page.locator("#state")).to_have_text("Finished")
        found.look("debrief of a hand", page)
        said = re.compile(rf"[Aa]t half way.* you held (\d+)° of bank where {HALF_WAY_DEG} belong")
        next_step = page.locator(".next-step")
        expect(next_step).to_have_text(said)  # once all has come that the phone read
        held = said.search(next_step.inner_text())
        assert held and abs(int(held[1]) - HALF_WAY_DEG - TOO_STEEP_DEG) <= 2.0
        expect(page.locator("#judged table")).to_contain_text(f"{held[1]}° ({HALF_WAY_DEG})")
        expect(page.locator("#judged")).not_to_contain_text("taps matched")

        phone.hold()
        page.locator("#once-more").press("Enter")
        expect(page.locator(".ghost")).to_be_visible()
        page.locator("#pause").press("Enter")
        expect(phone.page.locator("#state")).to_have_text("Paused")
        expect(page.locator("#told")).to_contain_text("Paused")
        found.look("flying with a phone", page)
        for size in (DESK, PHONE, SIDEWAYS):
            page.set_viewport_size(size)
            for what in (".tap", ".over", ".caption", "#pause", "#stop"):
                expect(page.locator(what)).to_be_in_viewport(ratio=1)
        page.set_viewport_size(DESK)
        where = phone.page.url
        phone.page.goto("about:blank")
        expect(page.locator("#held")).to_contain_text("The phone has lost its connection")
        expect(page.locator(".ghost")).to_be_hidden()
        phone.page.goto(where)
        phone.hold()
        expect(page.locator("#held")).to_be_empty()
        expect(page.locator(".ghost")).to_be_visible()
        page.reload()
        expect(page.locator("#hand-state")).to_have_text("Your phone is in: it is the airplane.")
        phone.context.close()
        expect(page.locator("#hand-state")).to_contain_text("goes on without your phone")
        page.click("#hand-close")
        expect(page.locator("#hand-open")).to_be_visible()
        assert not complaints
        page.context.close()
    found.are_valid()
    record_property("axe_checks_passed", found.passed)
    with Logbook(home / "logbook.sqlite3") as book:
        run = book.runs()[-1]  # the first: the other one may have begun before it was paused
    assert run.motion.time_s[0] < 0.0 and run.motion.time_s[-1] > half_s
