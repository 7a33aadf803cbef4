"""Who waits, who is taken out and a new code, in real browsers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from coach.logbook.logbook import FILE_NAME, Logbook
from tests.logbook.examples import RUN
from tests.page.browsing import PHONE, accessible, fresh, opened, watched
from tests.page.people import Served, served


@pytest.fixture
def known(home: Path) -> Iterator[Served]:
    """A room whose logbook has runs of two from elsewhere."""
    with Logbook(home / FILE_NAME) as log:
        log.add(replace(RUN, student=name) for name in ("Ada", "Bo"))
    with served(home, "Blue") as server:
        yield server


def joins(browser: Browser, server: Served, name: str) -> Page:
    page = fresh(browser, viewport=PHONE)
    page.goto(f"http://{server.host}/join#{server.code}")
    page.fill("input[name=name]", name)
    page.click("#join-form button.large")
    return page


def test_the_instructor_lets_in_whom_they_know_and_refuses_others_by_the_keyboard(
    browser: Browser, known: Served
) -> None:
    lead = opened(browser, known)
    complaints = watched(lead)
    ada, bo, other = (joins(browser, known, name) for name in ("Ada", "Bo", "ada"))
    expect(ada.locator("#asked")).to_have_text("One moment")
    expect(ada.locator("#asking")).to_contain_text("Ada has flown with this coach before")
    expect(lead.locator("#asked")).to_contain_text("3 wait to be let in")
    accessible(ada)
    accessible(lead)
    lead.locator("#guests button", has_text="Let in").first.press("Enter")
    expect(lead.locator("#asked")).to_contain_text("2 wait")
    lead.locator("#all-in").press("Enter")
    expect(lead.locator("#asked")).to_have_text("")
    expect(bo.locator("#state")).to_have_text("You are in")
    for page in (ada, other):  # each has heard what became of it
        expect(page.locator("#in:not([hidden]), #trouble:not(:empty)")).to_have_count(1)
    inside = [page for page in (ada, other) if page.locator("#in").is_visible()]
    (refused,) = {ada, other} - set(inside)
    expect(refused.locator("#trouble")).to_contain_text("Ada is in the room already")
    expect(refused.locator("input[name=name]")).to_be_visible()
    refused.fill("input[name=name]", "Ada K")
    refused.click("#join-form button.large")
    expect(refused.locator("#state")).to_have_text("You are in")
    expect(lead.locator("#roster-title")).to_have_text("3 in")
    assert complaints == []


def test_who_waits_can_give_another_name(browser: Browser, known: Served) -> None:
    lead, phone = opened(browser, known), joins(browser, known, "Ada")
    expect(lead.locator("#asked")).to_contain_text("One waits to be let in")
    phone.click("#another")
    expect(phone.locator("#join")).to_be_visible()
    expect(lead.locator("#asked")).to_have_text("")
    phone.fill("input[name=name]", "Cleo")
    phone.click("#join-form button.large")
    expect(phone.locator("#state")).to_have_text("You are in")


def test_a_new_code_stands_beside_the_old_ones_place_and_in_its_picture(
    browser: Browser, blue: Served
) -> None:
    lead, phone = opened(browser, blue), joins(browser, blue, "Ada")
    expect(phone.locator("#state")).to_have_text("You are in")
    expect(lead.locator("#roster-title")).to_have_text("1 in")  # and does what it is told
    picture = lead.locator("#qr img").get_attribute("src")
    lead.locator("#renew").press("Enter")
    expect(lead.locator("#door")).not_to_contain_text(f"{blue.code[:3]} {blue.code[3:]}")
    expect(lead.locator("#qr img")).not_to_have_attribute("src", str(picture))
    code = lead.locator("#code").inner_text()
    assert code in lead.locator("#door").inner_text()
    expect(phone.locator("#state")).to_have_text("You are in")
    late = joins(browser, blue, "Bo")
    expect(late.locator("#trouble")).to_contain_text("That is not this room's code")
    late.fill("input[name=code]", code)
    late.click("#join-form button.large")
    expect(late.locator("#state")).to_have_text("You are in")


def test_one_is_taken_out_at_once_and_all_from_an_address_after_a_question(
    browser: Browser, blue: Served
) -> None:
    lead = opened(browser, blue)
    complaints = watched(lead)
    ada, bo, cy = (joins(browser, blue, name) for name in ("Ada", "Bo", "Cy"))
    expect(lead.locator("#roster-title")).to_have_text("3 in")
    accessible(lead)
    lead.get_by_role("button", name="Remove Bo").press("Enter")
    expect(bo.locator("#trouble")).to_contain_text("The instructor took you out of the room")
    expect(lead.get_by_role("button", name="Remove Cy")).to_be_focused()
    lead.locator("#roster button", has_text="Remove all 2 from this address").first.press("Enter")
    expect(lead.locator("#sure-what")).to_have_text("Remove all 2 from this address?")
    expect(lead.locator("#sure-no")).to_be_focused()
    accessible(lead)
    lead.keyboard.press("Escape")
    expect(lead.locator("#sure")).to_be_hidden()
    expect(lead.locator("#roster-title")).to_have_text("2 in")
    lead.locator("#roster button", has_text="Remove all 2 from this address").first.press("Enter")
    lead.click("#sure-yes")
    expect(lead.locator("#roster-title")).to_have_text("Nobody is in yet")
    for phone in (ada, cy):
        expect(phone.locator("#trouble")).to_contain_text("The instructor took you out")
    assert complaints == []
