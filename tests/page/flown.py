"""What the coach's page plays, known to a hand that follows what is heard."""

from __future__ import annotations

import json
import time
from typing import Any

from playwright.sync_api import Page, WebSocket

from coach.hand.motion import Motion


class Listener:
    """Knows what a page plays by what it tells the program; made before its WebSocket.

    Attributes:
        heard: the last that it told.
    """

    def __init__(self, page: Page) -> None:
        self.heard: dict[str, Any] | None = None
        self._page = page
        self._origin_s = page.evaluate("performance.timeOrigin") / 1000.0
        page.on("websocket", self._watched)

    def began_s(self, rehearsal: dict[str, Any]) -> float | None:
        """When the flight began or will begin, `time.time`; None where nothing sounds."""
        if self.heard is None or not self.heard["playing"]:
            return None
        begun_s = float(self.heard["at_s"] - self.heard["position_s"])
        return float(self._origin_s + begun_s + rehearsal["flight_start_s"])

    def flown_s(self, rehearsal: dict[str, Any]) -> float:
        """Seconds of the flight that are heard now; long before it where nothing sounds."""
        began_s = self.began_s(rehearsal)
        return -60.0 if began_s is None else time.time() - began_s

    def until(self, rehearsal: dict[str, Any], flown_s: float) -> None:
        """Wait until so many seconds of the flight are heard."""
        while self.flown_s(rehearsal) < flown_s:
            self._page.wait_for_timeout(50)

    def _watched(self, socket: WebSocket) -> None:
        socket.on("framesent", self._sent)

    def _sent(self, frame: str | bytes) -> None:
        message = json.loads(frame)
        if message["type"] == "heard":
            self.heard = message


def plan(rehearsal: dict[str, Any]) -> Motion:
    """What is flown, in seconds of the flight at the airplane's own pace."""
    track, start_s = rehearsal["track"], rehearsal["flight_start_s"]
    rows = [at for at, at_s in enumerate(track["position_s"]) if at_s >= start_s]
    times, pitch, bank = (
        tuple(track[name][at] for at in rows) for name in ("position_s", "pitch_deg", "bank_deg")
    )
    return Motion(tuple(at_s - start_s for at_s in times), pitch, bank)
