"""The coach is killed while a room flies, and started again: with real browsers."""

from __future__ import annotations

import signal
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from coach.taps.timing import BOUNCE_S
from tests.page.browsing import choose, fresh, tapped, with_a_kite
from tests.page.people import Served, own_port, served

LOUDSPEAKER = """
  window.AudioContext = class extends AudioContext {
    constructor(options) {
      super(options);
      window.loudspeaker = this;
    }
  };
"""
"""Keeps a page's loudspeaker where a test can reach it."""


def kept(phone: Page) -> int:
    """How many taps the phone has and the coach has not."""
    return len(phone.evaluate("JSON.parse(localStorage.getItem('me')).taps"))


def test_a_run_sounds_on_and_no_tap_is_lost_while_the_coach_is_killed_and_started_again(
    browser: Browser, home: Path
) -> None:
    lead, phone, server, first = killed(browser, home)
    phone.wait_for_timeout(2000.0 * BOUNCE_S)  # sooner it would be the first tap, bouncing
    second = tapped(phone, "key")
    expect(phone.locator("#clock")).to_have_text("Your taps are kept and sent when it is back.")
    assert kept(phone) == 1
    with served(home, "Amber", server.port) as back:
        expect(phone.locator("#state")).to_have_text("Flying")
        both_count(lead, phone, back, second - first)


def test_a_tap_counts_though_the_loudspeaker_stops_before_the_coach_is_back(
    browser: Browser, home: Path
) -> None:
    lead, phone, server, first = killed(browser, home)
    phone.wait_for_timeout(2000.0 * BOUNCE_S)  # sooner it would be the first tap, bouncing
    second = tapped(phone, "key")
    lead.wait_for_timeout(1000)  # it sounds on, and that is noted
    lead.evaluate("loudspeaker.suspend()")
    expect(lead.locator("#trouble")).to_contain_text("The loudspeaker stopped")
    with served(home, "Amber", server.port) as back:
        expect(phone.locator("#state")).to_have_text("Flying")
        both_count(lead, phone, back, second - first)


def killed(browser: Browser, home: Path) -> tuple[Page, Page, Served, float]:
    """A room whose coach is gone in the middle of a run, and when its one student tapped once."""
    with_a_kite(home)
    server = Served(home, "Amber", own_port())
    lead, phone = fresh(browser), fresh(browser)
    lead.add_init_script(LOUDSPEAKER)
    lead.goto(f"http://{server.host}/room#{server.key}")
    phone.goto(f"http://{server.host}/join#{server.code}")
    phone.fill("input[name=name]", "Ada")
    phone.click("#join-form button")
    expect(lead.locator("#roster-title")).to_have_text("1 in")
    choose(lead, "quick-turn", "tones", loops="8")  # minutes, to be killed in
    lead.click("#choice button.large")
    lead.click("#start")
    expect(phone.locator("#state")).to_have_text("Flying")
    expect(lead.locator(".next")).to_contain_text("to the start")
    expect(lead.locator(".next")).to_be_empty()  # it is flown now

    first = tapped(phone, "key")
    expect(lead.locator("#roster")).to_contain_text("taps arrive")
    (file,) = (home / "rooms").glob("amber-*.json")
    while '"next_tap":2' not in file.read_text():  # written twice a second
        phone.wait_for_timeout(50)
    server.end(signal.SIGKILL)
    for page in (lead, phone):
        expect(page.locator("#trouble")).to_contain_text("The room does not answer.")
    return lead, phone, server, first


def both_count(lead: Page, phone: Page, back: Served, apart_s: float) -> None:
    """Once the run is stopped, both taps are in its debrief, so far apart."""
    while kept(phone):
        phone.wait_for_timeout(50)
    assert lead.locator("#pause").is_visible()
    lead.click("#stop")
    expect(phone.locator("#state")).to_have_text("Your debrief")
    with back.client() as client:
        told = client.get("/api/logbook?student=Ada").json()["maneuvers"][0]["recent"][0]
        told = client.get(f"/api/runs/{told['id']}").json()
    rows = [row["tapped_s"] for row in told["checkpoints"] if row["tapped_s"] is not None]
    taps = sorted(rows + told["timing"]["extra_taps_s"])
    assert len(taps) == 2, told
    earlier, later = taps
    assert later - earlier == pytest.approx(apart_s, abs=0.2)  # sound may stumble a little
