"""The page in a real browser."""

from __future__ import annotations

import json
import statistics
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import (
    Browser,
    Page,
    Playwright,
    Request,
    ViewportSize,
    expect,
    sync_playwright,
)

from coach.caution import CAUTION
from tests.page.browsing import chromium, heard_from, pressed, soundtrack, watched, with_a_kite
from tests.page.people import Served, served
from tests.sound.null_sink import NullSink

DESK = ViewportSize(width=1280, height=800)
PHONE = ViewportSize(width=360, height=740)
CLOSE_S = 0.03
"""How far a tap may be off the truth; the recorder's own time is good to about 10 ms."""

expect.set_options(timeout=30_000)  # a busy machine takes its time to speak


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A student's folder with a light, slow airplane in it."""
    return with_a_kite(tmp_path_factory.mktemp("home"))


@pytest.fixture(scope="module")
def page_server(home: Path) -> Iterator[Served]:
    with served(home) as server:
        yield server


@pytest.fixture(scope="module")
def playwright() -> Iterator[Playwright]:
    with sync_playwright() as one:
        yield one


@pytest.fixture(scope="module")
def browser(playwright: Playwright) -> Iterator[Browser]:
    with chromium(playwright) as one:
        yield one


def opened(browser: Browser, server: Served, **options: Any) -> Page:
    page = browser.new_context(viewport=options.pop("viewport", DESK), **options).new_page()
    page.goto(f"http://{server.host}/{server.opens}#{server.key}")
    expect(page.locator("#choice select[name=maneuver]")).to_be_visible()
    return page


def choose(page: Page, maneuver: str, airplane: str, support: str, pace: str = "1") -> None:
    """Fill the form in."""
    page.select_option("select[name=maneuver]", maneuver)
    page.select_option("select[name=airplane]", airplane)
    for summary in page.locator("#choice summary").all():
        if summary.locator("..").get_attribute("open") is None:
            summary.click()
    page.select_option("select[name=support]", support)
    page.select_option("select[name=pace]", pace)


def accessible(page: Page) -> None:
    """No violation on a large light screen and on a small dark one, and nothing wider than it."""
    before = page.viewport_size
    assert before is not None
    for scheme, size in (("light", DESK), ("dark", PHONE)):
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        page.set_viewport_size(size)
        found = Axe().run(page)
        assert not found.violations_count, found.generate_report()
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= size["width"], f"{wide} wide on a screen of {size['width']}"
    page.set_viewport_size(before)


def test_a_student_flies_by_keyboard_alone_and_every_tap_is_where_it_was(
    playwright: Playwright, null_sink: NullSink, page_server: Served, record_property: Any
) -> None:
    with chromium(playwright, null_sink.environment) as browser:
        page = opened(browser, page_server)
        complaints = watched(page)
        positions: list[float] = []

        def note(request: Request) -> None:
            if request.url.endswith("/taps"):
                positions.append(json.loads(request.post_data or "")["position_s"])

        page.on("request", note)
        choose(page, "chandelle", "kite", "everything", "1.5")
        with page.expect_response("**/api/rehearsals") as answer:
            page.locator("#choice button.large").press("Enter")
            expect(page.locator("#brief h1")).to_have_text("Chandelle")
            expect(page.locator("#board img")).to_be_visible()
        rehearsal = answer.value.json()
        null_sink.start_recording()
        page.locator("#start").press("Enter")
        expect(page.locator(".caption")).not_to_be_empty()
        expect(page.locator(".tap")).to_be_focused()
        began = time.perf_counter()
        taps = []
        for moment in rehearsal["moments"]:
            while time.perf_counter() < began + moment["position_s"]:
                page.wait_for_timeout(20)
            taps.append(pressed(page))
            page.wait_for_timeout(500)
            taps.append(pressed(page))
        expect(page.locator("#debrief h1")).to_have_text("Debrief: Chandelle", timeout=20_000)
        expect(page.locator("#judged tbody tr")).to_have_count(4)
        expect(page.locator("#judged img")).to_be_visible()
        page.locator("#to-logbook").press("Enter")
        expect(page.locator("#runs tbody tr").first).to_contain_text("Chandelle")
        heard = heard_from(null_sink.stop_recording(), soundtrack(page_server, rehearsal), taps)
        errors = [
            at_s - (tap - begin) for at_s, tap, begin in zip(positions, taps, heard, strict=True)
        ]
        record_property("tap_errors_ms", [round(1000 * error, 1) for error in errors])
        assert abs(statistics.median(errors)) < CLOSE_S
        assert max(map(abs, errors)) < 2 * CLOSE_S
        assert not complaints


def test_space_on_a_control_is_that_control_and_a_coach_that_is_gone_loses_no_tap(
    browser: Browser, page_server: Served
) -> None:
    page = opened(browser, page_server)
    choose(page, "unusual-attitude-nose-low", "kite", "checkpoints")
    page.click("#choice button.large")
    page.click("#start")
    expect(page.locator(".count")).not_to_be_empty()
    sent: list[str] = []
    page.on("request", lambda request: sent.append(request.url.rsplit("/", 1)[1]))
    page.wait_for_timeout(1000)
    page.locator("#pause").press("Space")
    expect(page.locator("#pause")).to_have_text("Go on")
    expect(page.locator("#told")).to_have_text("Paused. Taps do not count until you go on.")
    stands = page.locator(".count").inner_text()
    page.locator(".tap").click()
    page.wait_for_timeout(1500)
    assert page.locator(".count").inner_text() == stands
    assert "taps" not in sent
    page.locator("#pause").press("Space")
    expect(page.locator(".tap")).to_be_focused()
    page.locator(".tap").click()
    page.locator(".tap").press("Enter")
    page.wait_for_timeout(300)
    assert sent.count("taps") == 2
    page.context.set_offline(True)
    page.keyboard.press("Space")
    expect(page.locator("#told")).to_contain_text("Your taps are kept here until it is back.")
    page.context.set_offline(False)
    expect(page.locator("#told")).to_have_text("The coach is back. All your taps are kept.")
    page.click("#stop")
    expect(page.locator("#fly")).to_be_hidden()


@pytest.mark.parametrize(
    ("support", "picture", "numbers"),
    [("asking", 1, 0), ("tones", 0, 0)],
)
def test_what_the_coach_no_longer_says_the_page_no_longer_shows(
    browser: Browser, page_server: Served, support: str, picture: int, numbers: int
) -> None:
    page = opened(browser, page_server)
    choose(page, "unusual-attitude-nose-low", "kite", support)
    page.click("#choice button.large")
    page.click("#start")
    expect(page.locator(".count")).not_to_be_empty()  # the count-in is shown in any case
    expect(page.locator(".over")).to_have_count(picture)
    expect(page.locator(".strip")).to_have_count(picture)
    expect(page.locator(".figures")).to_have_count(numbers)


def test_little_motion_is_kept_to_for_those_who_want_it(
    browser: Browser, page_server: Served
) -> None:
    page = opened(browser, page_server, reduced_motion="reduce")
    choose(page, "unusual-attitude-nose-low", "kite", "checkpoints")
    page.click("#choice button.large")
    page.click("#start")
    expect(page.locator(".count")).not_to_be_empty()
    drawn = page.evaluate(
        """() => new Promise((done) => {
          let changes = 0;
          new MutationObserver((some) => (changes += some.filter((one) => one.target.matches("g")).length))
            .observe(document.querySelector(".over"), {subtree: true, attributes: true,
              attributeFilter: ["transform"]});
          setTimeout(() => done(changes), 2500);
        })"""
    )
    groups = page.locator(".over g[transform]").count()
    assert 0 < drawn <= 3 * groups


def test_every_screen_is_accessible_and_carries_the_caution(
    browser: Browser, page_server: Served
) -> None:
    page = opened(browser, page_server)
    complaints = watched(page)
    expect(page.locator("#caution")).to_have_text(CAUTION)
    choose(page, "unusual-attitude-nose-low", "kite", "checkpoints")
    accessible(page)
    page.click("#choice button.large")
    expect(page.locator("#board img")).to_be_visible()
    accessible(page)
    page.click("#start")
    expect(page.locator(".count")).not_to_be_empty()
    accessible(page)
    expect(page.locator(".next")).not_to_contain_text("start", timeout=20_000)
    page.click("#stop")
    expect(page.locator("#judged img")).to_be_visible()
    accessible(page)
    page.click("#to-logbook")
    expect(page.locator("#runs table")).to_be_visible()
    accessible(page)
    page.click("#to-room")
    accessible(page)
    assert not complaints


def join(browser: Browser, server: Served, name: str) -> Page:
    page = browser.new_context(viewport=PHONE, has_touch=True).new_page()
    page.goto(f"http://{server.host}/join#{server.code}")
    page.fill("input[name=name]", name)
    page.click("#join-form button")
    expect(page.locator("#state")).to_have_text("You are in")
    return page


def fly_together(
    playwright: Playwright, sink: NullSink, home: Path, room: str, names: list[str]
) -> list[float]:
    """A room flies; the first phone drops and comes back.

    Returns:
        Every tap's error against the sound that was recorded, in seconds.
    """
    with served(home, room) as server, chromium(playwright, sink.environment) as browser:
        lead = opened(browser, server)
        complaints = watched(lead)
        phones = [join(browser, server, name) for name in names]
        expect(lead.locator("#roster-title")).to_have_text(f"{len(names)} in")
        accessible(lead)
        accessible(phones[0])
        choose(lead, "chandelle", "kite", "tones", "1.5")
        lead.click("#choice button.large")
        expect(lead.locator("#start")).to_be_visible(timeout=30_000)
        sink.start_recording()
        with lead.expect_response("**/sound/0.wav") as answer:
            lead.click("#start")
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
                taps[name].append(pressed(phone))
        for phone in phones:
            while phone.evaluate("JSON.parse(localStorage.getItem('me')).taps.length"):
                phone.wait_for_timeout(20)
        recording = sink.stop_recording()
        lead.click("#stop")
        expect(lead.locator("#after h1")).to_have_text("Everybody’s timing")
        expect(lead.locator("#picture img")).to_be_visible()
        expect(lead.locator("#names")).not_to_be_checked()
        accessible(lead)
        for phone in phones:
            expect(phone.locator("#state")).to_have_text("Your debrief")
        accessible(phones[0])
        with server.client() as client:
            kept = client.get("/api/runs").json()[: len(names)]
            told = [client.get(f"/api/runs/{one['id']}").json() for one in kept]
        track = soundtrack(server, rehearsal)
        errors = []
        for run in told:
            found_s = [row["tapped_s"] for row in run["checkpoints"] if row["tapped_s"] is not None]
            found_s = sorted(found_s + run["timing"]["extra_taps_s"])
            made = taps[run["run"]["student"]]
            heard = heard_from(recording, track, made)
            for tap_s, tap, begin in zip(found_s, made, heard, strict=True):
                at_s = rehearsal["flight_start_s"] + tap_s  # both in the student's own seconds
                errors.append(at_s - (tap - begin))
        assert not complaints
        server.end()
        for one in (lead, *phones):
            expect(one.locator("#trouble")).to_contain_text("The room does not answer.")
        return errors


def test_a_room_flies_together_and_a_phone_that_dropped_keeps_its_place(
    playwright: Playwright, null_sink: NullSink, home: Path, record_property: Any
) -> None:
    errors = fly_together(playwright, null_sink, home, "Green", ["Robin", "<i>Kim</i>", "Sasha"])
    record_property("tap_errors_ms", [round(1000 * error, 1) for error in errors])
    assert len(errors) == 6
    assert abs(statistics.median(errors)) < CLOSE_S
    assert max(map(abs, errors)) < 2 * CLOSE_S
