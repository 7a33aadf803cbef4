"""The page in a real browser."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from coach.words import CAUTION
from tests.page.browsing import (
    DESK,
    OWN_CLOCK,
    PHONE,
    SIDEWAYS,
    begin,
    choose,
    opened,
    told,
    until_drawn,
    until_told,
    watched,
    with_a_kite,
)
from tests.page.people import Served, served
from tests.page.validity import Screens


@pytest.fixture(scope="module")
def page_server(new_home: Callable[[], Path]) -> Iterator[Served]:
    """Of a student with a light, slow airplane and a quick maneuver."""
    with served(with_a_kite(new_home())) as server:
        yield server


@pytest.fixture
def page(request: pytest.FixtureRequest, browser: Browser, page_server: Served) -> Iterator[Page]:
    """The page; with a script before its own, where the test asks for it."""
    one = opened(browser, page_server, getattr(request, "param", ""))
    yield one
    one.context.close()


COUNT_IN = "3"
"""Which is told once the attempt has begun, and all of its sound is there."""

own_clock = pytest.mark.parametrize("page", [OWN_CLOCK], ids=[""], indirect=True)


def test_space_on_a_control_is_that_control_and_a_coach_that_is_gone_loses_no_tap(
    page: Page,
) -> None:
    begin(page, "checkpoints")
    until_told(page, COUNT_IN)  # of an attempt: before that there is nothing to tap for
    sent: list[str] = []
    page.on("request", lambda request: sent.append(request.url.rsplit("/", 1)[1]))
    page.locator("#pause").press("Space")
    expect(page.locator("#pause")).to_have_text("Go on")
    expect(page.locator("#told")).to_have_text("Paused. Taps do not count until you go on.")
    until_drawn(page)
    stands = page.locator(".count").inner_text()
    page.locator(".tap").click()
    page.wait_for_timeout(1500)
    assert page.locator(".count").inner_text() == stands
    assert "taps" not in sent
    page.locator("#pause").press("Space")
    expect(page.locator(".tap")).to_be_focused()
    with page.expect_request("**/taps"):
        page.locator(".tap").click()
    with page.expect_request("**/taps"):
        page.locator(".tap").press("Enter")
    assert sent.count("taps") == 2
    page.context.set_offline(True)
    page.keyboard.press("Space")
    until_told(page, "The coach does not answer. Your taps are kept here until it is back.")
    page.context.set_offline(False)
    until_told(page, "The coach is back. All your taps are kept.")
    page.click("#stop")
    expect(page.locator("#fly")).to_be_hidden()


@pytest.mark.parametrize(("support", "drawn"), [("asking", 1), ("tones", 0)])
def test_what_the_coach_no_longer_says_the_page_no_longer_shows(
    page: Page, support: str, drawn: int
) -> None:
    begin(page, support)  # the count-in is shown in any case
    for what, times in ((".over", drawn), (".ground", drawn), (".now", drawn), (".figures", 0)):
        expect(page.locator(what)).to_have_count(times)


def test_little_motion_is_kept_to_for_those_who_want_it(page: Page) -> None:
    page.emulate_media(reduced_motion="reduce")
    begin(page, "checkpoints", loops="4")
    four_ms = page.evaluate(
        """() => new Promise((done) => {
          const begun_ms = performance.now();
          let drawn = 0;
          new MutationObserver(() => {
            if (++drawn === 4) done(performance.now() - begun_ms);
          }).observe(document.querySelector(".ground .point"), {attributeFilter: ["transform"]});
        })"""
    )
    assert four_ms >= 3000  # a second between two, and all within this; else sixty a second


def test_a_caption_is_told_once_though_a_clock_that_is_put_right_goes_back_a_little(
    page: Page,
) -> None:
    text, *shown = page.evaluate(
        """async (chosen) => {
          const {ask} = await import("/static/server.js");
          const {Stage} = await import("/static/stage.js");
          const rehearsal = await ask("/api/rehearsals", chosen);
          const stage = new Stage(rehearsal, null, () => {});
          const {start_s, text} = rehearsal.cues.filter((cue) => cue.text)[1];
          const shown = [0.02, -0.1, 0.1, -3.0].map((after_s) => {
            stage.draw(start_s + after_s);
            return stage.caption.textContent;
          });
          return [text, ...shown];
        }""",
        {"maneuver": "quick-turn", "airplane": "kite", "support": "checkpoints"},
    )
    assert shown[:3] == [text, text, text]
    assert shown[3] != text  # somebody went back


@own_clock
def test_a_sound_that_jumps_or_stops_is_told_and_no_tap_goes_wrong(page: Page) -> None:
    begin(page, "tones", loops="8")
    until_told(page, COUNT_IN)  # the sound has not stood after its opening, or does no longer

    def tap() -> float:
        """Where on the soundtrack a tap is put, less when it was on the page's clock."""
        with page.expect_request("**/taps") as sent:
            at_s = page.evaluate(
                """() => {
                  const event = new KeyboardEvent("keydown", {code: "Space", bubbles: true});
                  document.body.dispatchEvent(event);
                  return event.timeStamp / 1000;
                }"""
            )
        return float(json.loads(sent.value.post_data or "")["position_s"]) - float(at_s)

    taps: list[str] = []
    page.on("request", lambda one: taps.extend([one.url] if one.url.endswith("/taps") else []))
    notice = page.locator("#told")
    before = tap()
    page.evaluate("late_s = 0.5")
    assert tap() == pytest.approx(before - 0.5, abs=0.02)  # it waited until the clock was known
    until_told(page, "The sound was interrupted for a moment.")
    assert tap() == pytest.approx(before - 0.5, abs=0.02)
    expect(notice).to_be_empty()  # it has passed
    assert sum("interrupted" in one for one in told(page)) == 1

    for stop in ("context.suspend()", "stands = true"):
        page.evaluate(stop)
        expect(notice).to_have_text("The sound stopped. Taps do not count until you press Go on.")
        expect(page.locator("#pause")).to_have_text("Go on")
        taps.clear()
        page.locator("body").press("Space")
        page.evaluate("context.resume()")  # by itself it does not go on
        page.wait_for_timeout(300)
        page.wait_for_function("context.state === 'suspended'", polling=100)
        assert not taps
        page.evaluate("stands = false")
        page.click("#pause")
        expect(page.locator("#pause")).to_have_text("Pause")
        expect(notice).to_be_empty()
    page.click("#stop")
    expect(page.locator("#judged")).to_contain_text(
        re.compile(r"The sound was interrupted at [0-9: and]+: taps near there may be off")
    )


@own_clock
def test_in_the_background_it_goes_on_undrawn_and_comes_back_at_the_right_place(page: Page) -> None:
    begin(page, "everything")
    page.evaluate("turnAway(true)")
    stood = page.locator(".count").inner_text()
    page.wait_for_timeout(2500)
    assert page.locator(".count").inner_text() == stood
    page.evaluate("turnAway(false)")
    until_told(page, "While this page was in the background")
    expect(page.locator(".count")).not_to_have_text(stood)
    page.evaluate("turnAway(true)")
    expect(page.locator("#debrief h1")).to_be_visible()  # the end is found there as well


def walk(page: Page, found: Screens, name: str, focused: str) -> None:
    """Look at a screen as everybody may find it."""
    expect(page.locator(focused)).to_be_focused()
    found.look(name, page)


def test_every_screen_is_accessible_valid_and_carries_the_caution(
    page: Page, record_property: Any
) -> None:
    found = Screens()
    complaints = watched(page)
    expect(page.locator("#caution")).to_have_text(CAUTION)
    expect(page.locator("#choose h1")).to_be_focused()
    choose(page, "quick-turn", "everything")
    page.focus("#choice button.large")
    walk(page, found, "choose", "#choice button.large")
    page.locator("#choice button.large").press("Enter")
    expect(page.locator("#board img")).to_be_visible()
    walk(page, found, "brief", "#brief h1")
    page.locator("#start").press("Enter")
    expect(page.locator(".now")).to_contain_text("now")
    page.locator("#pause").press("Enter")
    expect(page.locator("#told")).not_to_be_empty()
    walk(page, found, "flying", "#pause")
    for size in (DESK, PHONE, SIDEWAYS):
        page.set_viewport_size(size)
        for what in (".tap", ".ground", ".caption", "#pause", "#stop"):
            expect(page.locator(what)).to_be_in_viewport(ratio=1)
        moved = page.evaluate(_MOVED)
        assert moved == 0, f"a long caption moves the page on a screen of {size}"
    page.set_viewport_size(DESK)
    page.locator("#pause").press("Enter")
    until_told(page, "Half way.")
    page.locator("#stop").press("Enter")
    expect(page.locator("#judged img")).to_be_visible()
    walk(page, found, "debrief", "#debrief h1")
    page.set_viewport_size(PHONE)
    page.wait_for_function(_UPRIGHT)
    page.set_viewport_size(DESK)
    page.locator("#to-logbook").press("Enter")
    expect(page.locator("#session li").first).to_be_visible()
    walk(page, found, "logbook", "#logbook h1")
    next_one = page.locator("#session li").nth(1)
    title = next_one.locator("strong").inner_text()
    next_one.locator("button").press("Enter")
    expect(page.locator("select[name=maneuver]")).to_be_focused()
    expect(page.locator("select[name=maneuver] option:checked")).to_have_text(title)
    page.locator("#to-room").press("Enter")
    walk(page, found, "opening a room", "#open-room h1")
    found.are_valid()
    record_property("axe_checks_passed", found.passed)
    assert not complaints


_UPRIGHT = """() => {
  const image = document.querySelector("#judged img");
  const fits = image.parentElement.scrollWidth <= image.parentElement.clientWidth;
  return fits && image.naturalHeight > image.naturalWidth;
}"""


_MOVED = """() => {
  const places = () => JSON.stringify([...document.querySelectorAll(".stage .ground, .tap, .ahead, #pause")]
    .map((one) => one.getBoundingClientRect()));
  const caption = document.querySelector(".caption");
  const said = caption.textContent;
  caption.textContent = "";
  const before = places();
  caption.textContent = "Bank off faster now. Through level at the first reference, on into the right turn.";
  const after = places();
  caption.textContent = said;
  return before === after ? 0 : before + after;
}"""


def test_the_opening_sounds_at_once_and_the_count_in_waits_for_the_rest(page: Page) -> None:
    held: list[Route] = []

    def as_its_opening(route: Route) -> None:
        """What the server answers whose voice has more to say."""
        answer = route.fetch()
        known = page.request.get(f"{route.request.url}/{answer.json()['id']}", headers=_keys(route))
        whole = known.json()
        end_s = next(start for start in whole["pieces"] if start % 10.0)
        first = {
            "pieces": [start for start in whole["pieces"] if start < end_s],
            "cues": [cue for cue in whole["cues"] if cue["end_s"] < end_s],
        }
        route.fulfill(json={**whole, **first, "whole": False, "length_s": end_s})

    page.route(re.compile("/api/rehearsals$"), as_its_opening)
    page.route(re.compile("/api/rehearsals/[0-9a-f]+$"), lambda route: held.append(route))
    why = "That attempt is over: start again."
    page.route("**/end", lambda route: route.fulfill(status=400, json={"problem": why}))
    begin(page, "checkpoints")
    until_told(page, "The rest is still being spoken")
    expect(page.locator(".count")).to_have_text("4")
    page.locator(".tap").click()  # which is no tap of anything
    page.wait_for_timeout(1500)
    assert page.locator(".count").inner_text() == "4"
    (waiting,) = held
    waiting.continue_()
    until_told(page, COUNT_IN)
    expect(page.locator("#told")).to_have_text("")
    page.click("#stop")
    expect(page.locator("#brief")).to_be_visible()
    expect(page.locator("#trouble")).to_have_text(why)


def _keys(route: Route) -> dict[str, str]:
    return {"X-Coach-Key": route.request.headers["x-coach-key"]}
