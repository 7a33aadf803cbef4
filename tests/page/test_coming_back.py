"""A phone that has lost what it was known by, with real browsers."""

from __future__ import annotations

from playwright.sync_api import Page, expect, sync_playwright

from tests.page.browsing import PHONE, accessible, chromium, fresh, watched
from tests.page.people import Served


def test_whoever_closed_their_private_tab_goes_on_by_saying_that_it_was_they(blue: Served) -> None:
    with sync_playwright() as playwright, chromium(playwright) as browser:

        def joins(name: str) -> Page:
            page = fresh(browser, viewport=PHONE)
            page.goto(f"http://{blue.host}/join#{blue.code}")
            page.fill("input[name=name]", name)
            page.click("#join-form button.large")
            return page

        lead = fresh(browser)
        lead.goto(f"http://{blue.host}/room#{blue.key}")
        first = joins("Ada")
        expect(first.locator("#state")).to_have_text("You are in")

        other = joins("ada")
        complaints = watched(other)
        expect(other.locator("#trouble")).to_contain_text("Ada is in the room already")
        expect(other.locator("#back")).to_be_hidden()
        first.context.close()
        expect(lead.locator("#roster-title")).to_contain_text("1 dropped")
        other.click("#join-form button.large")
        expect(other.locator("#trouble")).to_contain_text("If that was you, go on with your taps")
        expect(other.locator("#back")).to_be_visible()
        accessible(other)
        other.fill("input[name=name]", "Adam")  # another person
        expect(other.locator("#back")).to_be_hidden()
        other.fill("input[name=name]", "ada")
        other.click("#join-form button.large")
        other.click("#back")
        expect(other.locator("#state")).to_have_text("You are in")
        expect(other.locator("#who")).to_have_text("Ada")
        expect(lead.locator("#trouble")).to_contain_text("Ada is back on another page")
        expect(lead.locator("#roster-title")).to_have_text("1 in")
        assert complaints == []
