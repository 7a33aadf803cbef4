"""A student flies with the page, and what is heard of it is recorded."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any, Literal

from playwright.sync_api import Playwright, Request, expect

from tests.page.browsing import (
    choose,
    chromium,
    interrupted,
    opened,
    tapped,
    told,
    until_told,
    watched,
    with_a_kite,
)
from tests.page.people import served
from tests.page.placing import close, heard_from, soundtrack, tap_errors
from tests.sound.null_sink import NullSink

WAYS: tuple[Literal["key", "mouse", "finger"], ...] = ("key", "mouse", "finger")

EARLY_S = 0.5
"""The taps at a checkpoint begin before it: those at the last one are over well before the flight."""


def test_a_student_flies_with_the_keyboard_and_every_tap_is_where_it_was(
    playwright: Playwright, null_sink: NullSink, home: Path, record_property: Any
) -> None:
    with (
        served(with_a_kite(home)) as server,
        chromium(playwright, null_sink.environment) as browser,
    ):
        page = opened(browser, server)
        complaints = watched(page)
        positions: list[float] = []
        begins: list[float] = []  # of what is heard, as the page tells once a second

        def note(request: Request) -> None:
            if request.url.endswith(("/taps", "/reached")):
                position_s = json.loads(request.post_data or "")["position_s"]
                if request.url.endswith("/taps"):
                    positions.append(position_s)
                else:
                    begins.append(time.perf_counter() - position_s)

        page.on("request", note)
        choose(page, "quick-turn", "everything")
        with page.expect_response("**/api/rehearsals") as answer:
            page.locator("#choice button.large").press("Enter")
            expect(page.locator("#brief h1")).to_have_text("Quick turn")
            expect(page.locator("#board img")).to_be_visible()
        with server.client() as client:  # the answer is its opening; this waits for the whole
            rehearsal = client.get(f"/api/rehearsals/{answer.value.json()['id']}").json()
        null_sink.start_recording()
        page.locator("#start").press("Enter")
        expect(page.locator(".now")).to_have_text("first waiting")  # while the sound is fetched
        expect(page.locator(".tap")).to_be_focused()
        until_told(page, "Quick turn.")
        taps = []
        for moment in rehearsal["moments"]:
            while not begins or time.perf_counter() < begins[-1] + moment["position_s"] - EARLY_S:
                page.wait_for_timeout(20)
            for how in WAYS:
                taps.append(tapped(page, how))
                page.wait_for_timeout(300)
        expect(page.locator("#debrief h1")).to_have_text("Debrief: Quick turn", timeout=60_000)
        expect(page.locator("#judged tbody tr")).to_have_count(3)
        expect(page.locator("#judged img")).to_be_visible()
        page.locator("#to-logbook").press("Enter")
        expect(page.locator(".past h3")).to_have_text("Quick turn")
        captions = {cue["text"] for cue in rehearsal["cues"]}
        said = [one for one in told(page) if one in captions]
        stumbled = interrupted(page)
        assert said
        assert stumbled or len(set(said)) == len(said)
        assert not complaints
        recording = null_sink.stop_recording()
        heard = heard_from(recording, soundtrack(server, rehearsal), taps)
        errors = tap_errors(positions, taps, heard)
        record_property("tap_errors_ms", [round(1000 * error, 1) for error in errors])
        recording.is_steady()
        close(errors, stumbled=stumbled)
