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
    silent: list[WebSocketRoute] = []
    said: list[str | bytes] = []
    answers = False

    def held(way: WebSocketRoute) -> None:
        if answers:
            way.connect_to_server()
        else:
            silent.append(way)
            way.on_message(lambda one: said.append(one))

    page.route_web_socket("**/ws/lead", held)
    page.goto(f"http://{open_room.host}/room#{open_room.key}")
    while not said:  # by then the page has all but the room's answer
        page.wait_for_timeout(20)
    expect(page.locator("#code")).not_to_be_empty()
    for what in ("button", "input", "select"):
        expect(page.locator(f"{what}:visible")).to_have_count(0)
    answers = True
    silent[-1].close()  # and the page tries again
    for what in ("#renew", "#call", "#choice select[name=maneuver]"):
        expect(page.locator(what)).to_be_visible()
    expect(page.locator("#trouble")).to_be_empty()
    page.context.close()
    assert not complaints
