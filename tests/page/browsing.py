"""Real browsers, which may be heard through a sound server of the test's own."""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import (
    Browser,
    Page,
    Playwright,
    ViewportSize,
    expect,
    sync_playwright,
)

from tests.page.people import Served
from tests.sound.null_sink import BROWSER

DESK = ViewportSize(width=1280, height=800)
PHONE = ViewportSize(width=360, height=740)
SIDEWAYS = ViewportSize(width=640, height=360)
"""A phone on its side, and no larger than a desk's page at 200 %."""

KITE = Path(__file__).parents[1] / "kite.yaml"
QUICK = Path(__file__).parents[1] / "quick-turn.yaml"

_SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")

LIMIT_MS = 60_000
"""How long to wait for what must come: it ends a test that fails, on however busy a machine."""

expect.set_options(timeout=LIMIT_MS)


OWN_CLOCK = """
  window.late_s = 0; // how much later everything is heard from now on
  window.stands = false; // nothing more is heard
  window.away = false; // the page is in the background
  const frames = [];
  const frame = window.requestAnimationFrame.bind(window);
  window.requestAnimationFrame = (draw) => (away ? frames.push(draw) : frame(draw));
  Object.defineProperty(document, "hidden", {get: () => away});
  window.turnAway = async (now) => {
    away = now;
    document.dispatchEvent(new Event("visibilitychange"));
    if (!away) frames.splice(0).forEach(frame);
    await new Promise(frame); // what was to be drawn before is drawn
  };
  window.AudioContext = class extends AudioContext {
    constructor(options) {
      super(options);
      window.context = this;
      this.addEventListener("statechange", () => (this.last = null));
    }
    getOutputTimestamp() {
      const performanceTime = performance.now();
      if (!this.last) this.begun_s = performanceTime / 1000 - this.currentTime;
      if (!this.last || !stands)
        this.last = {performanceTime, contextTime: performanceTime / 1000 - this.begun_s - late_s};
      return this.last;
    }
  };
"""
"""A sound's clock, and a background, that a test has in its hands."""


_HEARD = """
  window.told = []; // as a screen reader comes to know of it
  new MutationObserver((changes) => {
    for (const {target, addedNodes} of changes)
      if (target.closest?.("[role=status], [role=alert], [aria-live]"))
        told.push(...[...addedNodes].map((one) => one.textContent));
  }).observe(document, {subtree: true, childList: true});
"""


@contextmanager
def driver() -> Iterator[Playwright]:
    """What drives the system's Chromium; skips where there is none, fails so under CI."""
    if _program() is None:  # before anything is started that would have to be ended
        (pytest.fail if os.environ.get("CI") else pytest.skip)("not installed here: chromium")
    with sync_playwright() as playwright:
        yield playwright


def _program() -> str | None:
    return shutil.which("chromium") or shutil.which("chromium-browser")


def _ahead(program: str | None, folder: Path) -> Path:
    """A program that runs another one ahead of what is not heard, where that is allowed."""
    path = folder / "ahead"
    chrt = f"chrt --rr {BROWSER}"
    path.write_text(f'#!/bin/sh\n{chrt} true && exec {chrt} {program} "$@"\nexec {program} "$@"\n')
    path.chmod(0o755)
    return path


@contextmanager
def chromium(
    playwright: Playwright, environment: dict[str, str] | None = None
) -> Iterator[Browser]:
    """The system's Chromium; with an environment to be heard in, ahead of other programs."""
    with tempfile.TemporaryDirectory() as folder:
        program = _program()
        if environment is not None:
            program = str(_ahead(program, Path(folder)))
        browser = playwright.chromium.launch(
            executable_path=program,
            args=["--no-sandbox", "--autoplay-policy=no-user-gesture-required"],
            ignore_default_args=["--mute-audio"],
            env={**(environment or os.environ)},
        )
        try:
            yield browser
        finally:
            browser.close()


def with_a_kite(home: Path) -> Path:
    """A student's folder with a light, slow airplane and a maneuver of a few seconds in it."""
    for kind, file in (("airplanes", KITE), ("maneuvers", QUICK)):
        folder = home / "scripts" / kind
        folder.mkdir(parents=True)
        shutil.copy(file, folder)
    return home


def watched(page: Page) -> list[str]:
    """Whatever the page complains about from now on."""
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("console", lambda line: complaints.append(line.text) if line.type == "error" else None)
    return complaints


def accessible(page: Page) -> int:
    """No violation on a large and on a small screen, light and dark, and nothing wider than it.

    Returns:
        How many checks were passed, of all four together.
    """
    before = page.viewport_size
    assert before is not None
    passed = 0
    for size in (DESK, PHONE):
        page.set_viewport_size(size)
        for scheme in _SCHEMES:
            page.emulate_media(color_scheme=scheme)
            with _still(page):
                found = Axe().run(page)
            assert not found.violations_count, found.generate_report()
            passed += len(found.response["passes"])
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= size["width"], f"{wide} wide on a screen of {size['width']}"
    page.set_viewport_size(before)
    return passed


@contextmanager
def _still(page: Page) -> Iterator[None]:
    """Let nothing fade while the page is looked at; what has begun to fade is over before."""
    devices = page.context.new_cdp_session(page)
    devices.send("Animation.enable")
    devices.send("Animation.setPlaybackRate", {"playbackRate": 0})
    page.evaluate(_FADED)
    try:
        yield
    finally:
        devices.send("Animation.setPlaybackRate", {"playbackRate": 1})
        devices.detach()


_FADED = """() => {
  for (const one of document.getAnimations())
    if (one.effect.getComputedTiming().progress !== null) one.finish();
}"""


def tapped(page: Page, how: Literal["key", "mouse", "finger"]) -> float:
    """Tap; when that was, on `time.perf_counter`: as from a real device, the browser is told."""
    place = page.locator(".tap").bounding_box()
    assert place is not None
    at: dict[str, Any] = {"x": place["x"] + 20.0, "y": place["y"] + 20.0}
    key: dict[str, Any] = {"key": " ", "code": "Space", "windowsVirtualKeyCode": 32}
    button = {**at, "button": "left", "clickCount": 1}
    (down, pressed), (up, released) = {
        "key": (("keyDown", key), ("keyUp", key)),
        "mouse": (("mousePressed", button), ("mouseReleased", button)),
        "finger": (("touchStart", {"touchPoints": [at]}), ("touchEnd", {"touchPoints": []})),
    }[how]
    event = {"key": "Key", "mouse": "Mouse", "finger": "Touch"}[how]
    devices = page.context.new_cdp_session(page)
    when, now = time.time(), time.perf_counter()
    devices.send(f"Input.dispatch{event}Event", {"type": down, "timestamp": when, **pressed})
    devices.send(f"Input.dispatch{event}Event", {"type": up, **released})
    return now


def fresh(browser: Browser, **options: Any) -> Page:
    """A page in a context of its own, which waits as long as a slow machine needs."""
    context = browser.new_context(**options)
    context.set_default_timeout(LIMIT_MS)
    return context.new_page()


def opened(browser: Browser, server: Served, script: str = "") -> Page:
    """The page in a context of its own, with a script that runs before the page's own."""
    page = fresh(browser, viewport=DESK)
    page.add_init_script(_HEARD + script)
    page.goto(f"http://{server.host}/{server.opens}#{server.key}")
    expect(page.locator("#choice select[name=maneuver]")).to_be_visible()
    return page


def choose(page: Page, maneuver: str, support: str, **day: str) -> None:
    """Fill the form in."""
    page.select_option("select[name=maneuver]", maneuver)
    page.select_option("select[name=airplane]", "kite")
    for summary in page.locator("#choice summary").all():
        if summary.locator("..").get_attribute("open") is None:
            summary.click()
    page.select_option("select[name=support]", support)
    for name, value in day.items():
        page.fill(f"input[name={name}]", value)


def until_told(page: Page, words: str) -> None:
    """Wait until the page has told what begins so, or go on where it has: it may be gone by now."""
    has_told = "(words) => told.some((one) => one.startsWith(words))"
    page.wait_for_function(has_told, arg=words, polling=100)


def until_drawn(page: Page) -> None:
    """Wait until what is so now has been drawn."""
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => setTimeout(done)))")


def told(page: Page) -> list[str]:
    """Whatever was told in passing since the page was opened."""
    return list(page.evaluate("told"))


def interrupted(page: Page) -> bool:
    """Whether the page said that the sound of this busy machine stumbled."""
    return any("interrupted" in one for one in told(page))


def begin(page: Page, support: str, **day: str) -> None:
    """Choose the quick maneuver and start it; it sounds."""
    choose(page, "quick-turn", support, **day)
    page.click("#choice button.large")
    page.click("#start")
    until_told(page, "Quick turn.")
