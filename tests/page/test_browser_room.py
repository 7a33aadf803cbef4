"""A room in real browsers: the instructor's screen, and phones."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import httpx
from playwright.sync_api import Browser, Page, Playwright, expect

from tests.page.browsing import (
    PHONE,
    SIDEWAYS,
    choose,
    chromium,
    fresh,
    interrupted,
    opened,
    tapped,
    watched,
    with_a_kite,
)
from tests.page.people import Served, served
from tests.page.placing import close, heard_from, soundtrack, tap_errors
from tests.page.validity import Screens
from tests.sound.null_sink import NullSink


def join(browser: Browser, server: Served, name: str) -> Page:
    page = fresh(browser, viewport=PHONE, has_touch=True)
    page.goto(f"http://{server.host}/join#{server.code}")
    page.fill("input[name=name]", name)
    page.click("#join-form button")
    expect(page.locator("#state")).to_have_text("You are in")
    return page


def flown_by(client: httpx.Client, student: str) -> dict[str, Any]:
    """The debrief of somebody's only run."""
    kept = client.get("/api/logbook", params={"student": student}).json()["maneuvers"]
    ((run,),) = (one["recent"] for one in kept)
    return dict(client.get(f"/api/runs/{run['id']}").json())


def fly_together(
    playwright: Playwright, sink: NullSink, home: Path, room: str, names: list[str]
) -> tuple[list[float], Screens]:
    """A room flies; the first phone drops and comes back.

    Returns:
        Every tap's error against the sound that was recorded, in seconds, and each
        screen as it was looked at.
    """
    found = Screens()
    with served(home, room) as server, chromium(playwright, sink.environment) as browser:
        lead = opened(browser, server)
        complaints = watched(lead)
        found.look("room open", lead)
        phones = [join(browser, server, name) for name in names]
        stranger = fresh(browser, viewport=PHONE)
        stranger.goto(f"http://{server.host}/join")
        found.look("phone joins", stranger)
        stranger.close()
        expect(lead.locator("#roster-title")).to_have_text(f"{len(names)} in")
        found.look("phone waits", phones[0])
        choose(lead, "quick-turn", "checkpoints", loops="4")  # it is flown while all is looked at
        lead.locator("#choice button.large").press("Enter")
        expect(lead.locator("#start")).to_be_visible()
        expect(lead.locator(".briefing img")).to_be_visible()
        expect(lead.locator(".briefing")).to_contain_text("margin")
        found.look("room ready", lead)
        lead.locator(".briefing summary").press("Enter")
        expect(lead.locator(".briefing img")).to_be_hidden()
        lead.click("#call")  # however the room is shown anew, what was folded away stays so
        expect(lead.locator(".briefing img")).to_be_hidden()
        lead.click("#call")
        sink.start_recording()
        with lead.expect_response("**/sound/0.wav") as answer:
            lead.locator("#start").press("Enter")
        expect(lead.locator("#pause")).to_be_focused()
        id = answer.value.url.split("/")[-3]
        with server.client() as client:
            rehearsal = client.get(f"/api/rehearsals/{id}").json()
        expect(phones[0].locator("#state")).to_have_text("Flying")
        began = time.perf_counter()
        phones[0].goto("about:blank")
        expect(lead.locator("#roster-title")).to_have_text(f"{len(names) - 1} in, 1 dropped")
        phones[0].goto(f"http://{server.host}/join")
        expect(phones[0].locator("#state")).to_have_text("Flying")
        expect(lead.locator("#roster-title")).to_have_text(f"{len(names)} in")
        taps: dict[str, list[float]] = {name: [] for name in names}
        for moment in rehearsal["moments"][:2]:
            while time.perf_counter() < began + moment["position_s"]:
                lead.wait_for_timeout(20)
            for name, phone in zip(names, phones, strict=True):
                taps[name].append(tapped(phone, "finger"))
        for phone in phones:
            while phone.evaluate("JSON.parse(localStorage.getItem('me')).taps.length"):
                phone.wait_for_timeout(20)
        recording = sink.stop_recording()
        stumbled = interrupted(lead)
        found.look("phone flies", phones[0])
        phones[0].set_viewport_size(SIDEWAYS)
        expect(phones[0].locator("#tap")).to_be_in_viewport(ratio=1)
        lead.click("#pause")
        expect(lead.locator("#told")).not_to_be_empty()
        found.look("room flies", lead)
        lead.click("#stop")
        expect(lead.locator("#after h1")).to_have_text("Everybody’s run")
        expect(lead.locator("#picture img")).to_be_visible()
        expect(lead.locator("#names")).not_to_be_checked()
        found.look("room finished", lead)
        for phone in phones:
            expect(phone.locator("#state")).to_have_text("Your debrief")
        found.look("phone debriefed", phones[0])
        with server.client() as client:
            told = [flown_by(client, name) for name in names]
        track = soundtrack(server, rehearsal)
        assert not complaints
        server.end()
        for one in (lead, *phones):
            expect(one.locator("#trouble")).to_contain_text("The room does not answer.")
        recording.is_steady()
        errors: list[float] = []
        for run in told:
            found_s = [row["tapped_s"] for row in run["checkpoints"] if row["tapped_s"] is not None]
            found_s = sorted(found_s + run["timing"]["extra_taps_s"])
            made = taps[run["run"]["student"]]
            # Both in the student's own seconds.
            positions = [rehearsal["flight_start_s"] + tap_s for tap_s in found_s]
            errors += tap_errors(positions, made, heard_from(recording, track, made))
        close(errors, stumbled=stumbled)
        return errors, found


def test_a_room_flies_together_and_a_phone_that_dropped_keeps_its_place(
    playwright: Playwright, null_sink: NullSink, home: Path, record_property: Any
) -> None:
    names = ["Robin", "<i>Kim</i>", "Maximiliane-Wilhelmina-K"]
    with_a_kite(home)
    errors, found = fly_together(playwright, null_sink, home, "Green", names)
    record_property("tap_errors_ms", [round(1000 * error, 1) for error in errors])
    found.are_valid()
    record_property("axe_checks_passed", found.passed)
    assert len(errors) == 6
