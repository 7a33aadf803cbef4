"""Promises of the player and of the way a device is chosen. No loudspeaker is needed."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

import coach
from coach.problems import Problem
from coach.sound.backends import silent
from coach.sound.clip import RATE
from coach.sound.outputs import open_player, outputs
from coach.sound.player import Player
from coach.sound.soundtrack import Soundtrack

REPOSITORY = Path(coach.__file__).parent.parent


def ramp(seconds: float) -> Soundtrack:
    count = round(seconds * RATE)
    return Soundtrack((np.arange(1, count + 1) / (2 * count)).astype(np.float32))


class HandCranked:
    """A device that asks when the test says so."""

    alive = True

    def start(self) -> None: ...

    def close(self) -> None: ...


def cranked(soundtrack: Soundtrack) -> Player:
    player = Player(soundtrack)
    player.attach(HandCranked())
    player.start()
    return player


def take(player: Player, count: int) -> list[float]:
    out = np.full((count, 2), np.nan, dtype=np.float32)
    player.fill(out, 0.0)
    np.testing.assert_array_equal(out[:, 0], out[:, 1])
    return [float(value) for value in out[:, 0]]


def test_the_device_gets_every_sample_once_in_order_and_then_silence() -> None:
    track = ramp(0.01)
    player = cranked(track)
    got = take(player, 200) + take(player, 200) + take(player, 200)
    assert got == [*map(float, track.samples), *[0.0] * 120]


def test_a_pause_is_silent_and_loses_no_sample() -> None:
    track = ramp(0.01)
    player = cranked(track)
    got = take(player, 100)
    player.pause()
    assert take(player, 50) == [0.0] * 50
    player.resume()
    assert got + take(player, 380) == [float(value) for value in track.samples]


def test_starting_over_during_a_pause_plays_from_the_beginning_even_if_resumed_at_once() -> None:
    track = ramp(0.01)
    player = cranked(track)
    take(player, 100)
    player.pause()
    take(player, 10)
    player.restart()
    player.resume()
    assert take(player, 480) == [float(value) for value in track.samples]


def test_without_a_device_the_soundtracks_time_goes_on_to_its_end() -> None:
    with open_player(ramp(0.6), "silent") as player:
        assert player.note is None and not player.finished
        player.start()
        began = time.perf_counter()
        time.sleep(0.3)
        assert player.position_s(began + 0.2) == pytest.approx(0.2, abs=0.01)
        deadline = time.monotonic() + 3
        while not player.finished:
            assert time.monotonic() < deadline
            time.sleep(0.01)
        assert time.perf_counter() - began == pytest.approx(0.6, abs=0.1)
        assert player.position_s() == pytest.approx(0.6)


def test_a_stopped_player_stays_where_it_was() -> None:
    player = open_player(ramp(5), "silent")
    player.start()
    time.sleep(0.2)
    player.stop()
    first = player.position_s()
    time.sleep(0.1)
    assert player.position_s() == first == pytest.approx(0.2, abs=0.05)
    player.stop()


def test_a_device_that_vanishes_is_noticed_and_the_time_goes_on() -> None:
    player = cranked(ramp(5))
    began = time.perf_counter()
    for block in range(10):
        player.fill(np.zeros((480, 1), np.float32), began + block / 100 - time.perf_counter())
    assert player.position_s(began + 0.05) == pytest.approx(0.05, abs=0.002) and not player.lost
    device = player._device
    assert isinstance(device, HandCranked)
    device.alive = False
    assert player.position_s(began + 0.05) == pytest.approx(0.05, abs=0.002)
    assert player.lost and player.note is not None and "captions only" in player.note
    time.sleep(0.3)
    now = time.perf_counter()
    assert player.position_s(now) == pytest.approx(now - began, abs=0.005)
    player.pause()
    time.sleep(0.1)
    stood = player.position_s()
    time.sleep(0.1)
    assert player.position_s() == stood
    player.stop()


def test_the_environment_can_ask_for_silence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_OUTPUT", "silent")
    player = open_player(ramp(0.1))
    assert isinstance(player._device, silent.SilentDevice)


def test_an_unknown_device_is_answered_with_what_there_is() -> None:
    with pytest.raises(Problem, match="no sound device called silnt; did you mean silent"):
        open_player(ramp(0.1), "silnt")
    assert "silent" not in outputs()


def test_a_machine_without_a_sound_device_is_told_so_in_one_sentence_and_sees_no_noise(
    tmp_path: Path,
) -> None:
    no_such_card = tmp_path / "alsa.conf"
    no_such_card.write_text("pcm.!default { type hw card 31 }")
    code = (
        "import numpy; from coach.sound import outputs, soundtrack;"
        "p = outputs.open_player(soundtrack.Soundtrack(numpy.zeros(480, 'f4')));"
        "p.start(); p.stop(); print(p.note)"
    )
    nowhere = {
        "ALSA_CONFIG_PATH": str(no_such_card),
        "PULSE_SERVER": "unix:/nowhere",
        "JACK_NO_START_SERVER": "1",
        "XDG_RUNTIME_DIR": "/nowhere",
    }
    environment = {**os.environ, **nowhere}
    environment.pop("COACH_OUTPUT", None)
    child = subprocess.run(
        [sys.executable, "-c", code],
        env=environment,
        cwd=REPOSITORY,
        capture_output=True,
        text=True,
        timeout=30,
    )
    assert child.stderr == ""
    assert child.stdout.startswith("No sound device: captions only; connect headphones")
    assert len(child.stdout.splitlines()) == 1
