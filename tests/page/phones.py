"""Chromium as a phone in the hand, and a small server for it to join."""

from __future__ import annotations

import asyncio
import contextlib
import json
import socket
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
from playwright.sync_api import Browser
from starlette.websockets import WebSocket

from coach.hand.grip import EASY, Grip
from coach.hand.motion import Motion
from coach.page.hand.apart import app
from coach.page.hand.pairing import Pairing
from coach.page.server.records import Records
from coach.page.server.serving import Server
from coach.problems import Problem
from tests.hand.simulated import BEFORE_S, Simulated
from tests.page.browsing import PHONE, fresh

SENSOR = "relative-orientation"


def quaternion(pitch_deg: float, bank_deg: float, grip: Grip = EASY) -> dict[str, float]:
    """A phone whose airplane has that attitude: from its axes to the earth's, as W3C has it.

    Its heading is whatever is turned least.
    """
    pitch, bank = np.radians([pitch_deg, bank_deg])
    nose, top = np.array(grip.nose), np.array(grip.top)
    right = np.cross(nose, top)
    up = (
        np.sin(pitch) * nose
        - np.sin(bank) * np.cos(pitch) * right
        + np.cos(bank) * np.cos(pitch) * top
    )
    x, y, z, w = up[1], -up[0], 0.0, 1.0 + up[2]  # half way from up to the earth's z
    if w < 1e-9:
        x, y, z, w = 1.0, 0.0, 0.0, 0.0
    length = float(np.sqrt(x * x + y * y + z * z + w * w))
    return {"x": x / length, "y": y / length, "z": z / length, "w": w / length}


def waved(s: float) -> tuple[float, float]:
    """A movement that is nowhere like itself within a second: pitch and bank."""
    return 12.0 * np.sin(2.1 * s), 30.0 * np.sin(1.3 * s) + 8.0 * np.sin(4.7 * s)


def behind_s(flown: list[tuple[float, float, float]], at_s: Any, bank_deg: Any) -> float:
    """How much later bank is read than it was set, by what fits best."""
    set_s, _, set_deg = np.array(flown).T
    inside = (at_s > set_s[0] + 0.2) & (at_s < set_s[-1] - 0.2)
    lags = np.arange(-0.1, 0.3, 0.001)
    errors = [
        np.median(np.abs(np.interp(at_s[inside] - lag, set_s, set_deg) - bank_deg[inside]))
        for lag in lags
    ]  # of most readings: a busy machine sets some of them late
    return float(lags[int(np.argmin(errors))])


EVERY_S = 0.02
"""How often the sensor of a hand tells that needs nobody to move it."""

_BY_ITSELF = f"""
  let learned = [[0, 0, 0, 1]];
  let flown = {{from_ms: 0, turned: learned}};
  window.learn = (turned) => (learned = JSON.parse(turned));
  window.fly = (from_ms) => (flown = {{from_ms, turned: learned}});
  window.RelativeOrientationSensor = class {{
    activated = true;
    timestamp = performance.now();
    start() {{
      setInterval(() => this.#tell(), {1000.0 * EVERY_S});
    }}
    #tell() {{
      for (; this.timestamp < performance.now(); this.timestamp += {1000.0 * EVERY_S}) {{
        const {{from_ms, turned}} = flown;
        const rows = (performance.timeOrigin + this.timestamp - from_ms) / {1000.0 * EVERY_S};
        const row = Math.floor(rows) % turned.length;
        this.quaternion = turned[row < 0 ? row + turned.length : row];
        this.onreading({{target: this}});
      }}
    }}
  }};
"""
"""A sensor that is turned as it was told in advance, and tells all of it, however busy the machine."""


class Flown:
    """A browser's page as a phone in a hand that was told all it is to do before.

    What the browser's own sensor makes of it is for `HandPage`.

    Attributes:
        page: it.
    """

    def __init__(self, browser: Browser) -> None:
        self.page = fresh(browser, ignore_https_errors=True, viewport=PHONE, has_touch=True)
        self.page.add_init_script(_BY_ITSELF)
        self.context = self.page.context

    def learn(self, hand: Simulated) -> None:
        """Tell it what is to be flown next."""
        times = np.arange(-BEFORE_S, hand.plan.time_s[-1] + BEFORE_S, EVERY_S)
        self.page.evaluate("learn", json.dumps(hand.quaternions(times).round(5).tolist()))

    def fly(self, begins_s: float) -> None:
        """Let that be flown, beginning at that time, `time.time`; it may be long ago."""
        self.page.evaluate("fly", 1000.0 * (begins_s - BEFORE_S))

    def hold(self, pitch_deg: float = 0.0, bank_deg: float = 0.0) -> None:
        """Let it be held so from now on, by a hand that is not quite still."""
        held = Motion((0.0, 1.0), (pitch_deg,) * 2, (bank_deg,) * 2)
        self.learn(Simulated(held, noise_deg=0.5, drift_deg_per_min=0.0))
        self.fly(time.time())


class Remembered(Records):
    """A logbook of nothing but how phones are held, as long as a test."""

    def __init__(self, **held: Grip) -> None:
        self.held = held
        self.full = False

    async def ask(self, job: Callable[[Any], Any]) -> Any:
        return job(self)

    def grip(self, _: str, phone: str) -> Grip | None:
        return self.held.get(phone)

    def keep_grip(self, _: str, phone: str, grip: Grip) -> None:
        if self.full:
            raise Problem("The disk is full.")
        self.held[phone] = grip


class HandPage:
    """A browser's page whose sensor a test has in its hands.

    Attributes:
        page: it.
        grip: how the phone sits.
        trembles_deg: no hand is still; 0 for a table, or for a hand that trembles by itself.
    """

    def __init__(self, browser: Browser, *, sensor: bool = True, seed: int = 1, **context: Any):
        options: dict[str, Any] = {"viewport": PHONE, "has_touch": True, **context}
        self.page = fresh(browser, ignore_https_errors=True, **options)
        self.context = self.page.context
        self.grip = EASY
        self.trembles_deg = 0.5
        self._noise = np.random.default_rng(seed)
        self._session = self.context.new_cdp_session(self.page)
        self._session.send(
            "Emulation.setSensorOverrideEnabled",
            {"enabled": True, "type": SENSOR, "metadata": {"available": sensor}},
        )

    def permit(self, *, sensors: bool) -> None:
        """Say whether pages may read the sensors that tell how it is turned."""
        # Whatever is not among what is granted is denied.
        self.context.grant_permissions(
            ["accelerometer", "gyroscope"] if sensors else ["geolocation"]
        )

    def turn(self, pitch_deg: float = 0.0, bank_deg: float = 0.0) -> float:
        """Hold it so from now on; when that was, on `time.perf_counter`."""
        pitch_deg, bank_deg = self._noise.normal((pitch_deg, bank_deg), self.trembles_deg)
        reading = {"quaternion": quaternion(pitch_deg, bank_deg, self.grip)}
        at_s = time.perf_counter()
        self._session.send(
            "Emulation.setSensorOverrideReadings", {"type": SENSOR, "reading": reading}
        )
        return at_s

    def fly(
        self,
        attitude: Callable[[float], tuple[float, float]],
        for_s: float,
        hz: float = 50.0,
    ) -> list[tuple[float, float, float]]:
        """Move it in real time.

        Args:
            attitude: pitch and bank, degrees, so many seconds after the beginning.
            for_s: how long.
            hz: how often it is turned.

        Returns:
            What was flown: when, on `time.perf_counter`, pitch and bank.
        """
        flown = []
        begun_s = time.perf_counter()
        while (now_s := time.perf_counter() - begun_s) < for_s:
            pitch_deg, bank_deg = attitude(now_s)
            flown.append((self.turn(pitch_deg, bank_deg), pitch_deg, bank_deg))
            self.page.wait_for_timeout(max(1.0, 1000.0 / hz - 3.0))
        return flown

    def hold(self, pitch_deg: float = 0.0, bank_deg: float = 0.0, for_s: float = 1.0) -> None:
        """Hold it so for a while."""
        self.fly(lambda _: (pitch_deg, bank_deg), for_s)

    def join(self, address: str, code: str) -> None:
        """Open the page and press the one button."""
        self.page.goto(f"{address}/hand#{code}")
        self.page.click("#join-form button")


class HandServed:
    """A server with nothing but the hand's page.

    Attributes:
        address: its.
        away: whether it lets nobody in just now.
    """

    def __init__(self, pairing: Pairing, address: str) -> None:
        self.address = address
        self.away = False
        self._pairing = pairing
        self._sockets: set[asyncio.Task[Any]] = set()
        self._loop: asyncio.AbstractEventLoop | None = None

    async def phone(self, socket: WebSocket) -> None:
        """A phone that comes."""
        if self.away:
            await socket.close()
            return
        self._loop = asyncio.get_running_loop()
        task = asyncio.create_task(self._pairing.phone(socket))
        self._sockets.add(task)
        await asyncio.wait([task])
        self._sockets.discard(task)

    def cut(self) -> None:
        """Cut every connection, as a network does."""
        self.away = True
        if self._loop is not None:
            for task in list(self._sockets):
                self._loop.call_soon_threadsafe(task.cancel)


@contextlib.contextmanager
def hand_served(pairing: Pairing) -> Iterator[HandServed]:
    """The same in a thread."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        served = HandServed(pairing, f"http://127.0.0.1:{listener.getsockname()[1]}")
        server = Server(app(served.phone))
        thread = threading.Thread(target=server.run, args=([listener],), daemon=True)
        thread.start()
        try:
            yield served
        finally:
            server.should_exit = True
            thread.join(10.0)
