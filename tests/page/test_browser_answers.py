"""A room's page in a real browser, while the room has not answered yet."""

from __future__ import annotations

from playwright.sync_api import Browser, WebSocketRoute, expect

from tests.page.browsing import DESK, fresh, watched
from tests.page.people import Served


def test_nothing_that_would_be_lost_can_be_pressed_before_the_room_answers(
    browser: Browser, open_room: Served
) -> None:
    page = fresh(browser, viewport=DESK)
    complaints = watched(page)
    ways: list[WebSocketRoute] = []
    said: list[str | bytes] = []

    def held(way: WebSocketRoute) -> None:
        ways.append(way)
        way.on_message(said.append)

    page.route_web_socket("**/ws/lead", held)
    page.goto(f"http://{open_room.host}/room#{open_room.key}")
    while not said:  # by then the page has all but the room's answer
        page.wait_for_timeout(20)
    expect(page.locator("#code")).not_to_be_empty()
    for what in ("button", "input", "select"):
        expect(page.locator(f"{what}:visible")).to_have_count(0)

    (way,) = ways
    room = way.connect_to_server()
    for one in said:
        room.send(one)
    way.on_message(room.send)
    for what in ("#renew", "#call", "#choice select[name=maneuver]"):
        expect(page.locator(what)).to_be_visible()
    page.context.close()
    assert not complaints
