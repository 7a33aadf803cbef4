"""Promises of the player: where it stands, and what it does when its device vanishes."""

from __future__ import annotations

import time

import numpy as np
import pytest

from coach.sound.clip import RATE, Clip
from coach.sound.outputs import open_player
from coach.sound.player import GO_BACK_S, Player

from .crank import Cranked, HandCranked, Room, soon, take, until
from .tape import ramp


def lose(player: Player) -> None:
    device = player._device
    assert isinstance(device, HandCranked)
    device.alive = False
    soon(player, lambda: player.lost)


def test_without_a_device_the_soundtracks_time_goes_on_to_its_end() -> None:
    with open_player(ramp(0.6), "silent") as player:
        assert player.note is None and not player.finished
        before = time.perf_counter()
        player.start()
        began = time.perf_counter()
        until(lambda: player.position_s() > 0.3)
        off_s = player.position_s(began + 0.2) - 0.2  # it began in between
        assert -0.01 < off_s < began - before + 0.01
        until(lambda: player.finished)
        assert time.perf_counter() - before > 0.59
        assert player.position_s() == pytest.approx(0.6)


def test_a_stopped_player_stays_where_it_was() -> None:
    player = open_player(ramp(60), "silent")
    began = time.perf_counter()
    player.start()
    until(lambda: player.position_s() > 0.21)
    player.stop()
    ended = time.perf_counter()
    first = player.position_s()
    time.sleep(0.1)
    assert player.position_s() == first
    assert 0.2 <= first <= ended - began
    player.stop()


def played(player: Player, seconds: float) -> float:
    """Have the device ask for so much as fast as it can; when its first frame is heard."""
    now = player.timekeeper.now
    began = now()
    for block in range(round(seconds * 100)):
        out = np.zeros((480, 2), np.float32)
        player.fill(out, began + block / 100 - now())
    return began


def test_what_is_said_beside_the_soundtrack_is_heard_whole_and_one_after_the_other(
    cranked: Cranked,
) -> None:
    track = ramp(5)
    player = cranked(track)
    for count in (700, 300):
        player.interject(Clip(np.full(count, 0.5, dtype=np.float32)))
    heard = [sum(take(player, 480)) for _ in range(4)]
    alone = [float(track.samples[480 * block : 480 * (block + 1)].sum()) for block in range(4)]
    # The first ends in the second block, and the other begins with the third.
    assert [mixed - plain for mixed, plain in zip(heard, alone, strict=True)] == pytest.approx(
        [240.0, 110.0, 150.0, 0.0], abs=0.5
    )


def test_a_device_that_vanishes_pauses_the_run_where_it_was_last_heard(cranked: Cranked) -> None:
    player = cranked(ramp(5))
    began = played(player, 0.8)
    player.timekeeper.sleep(0.3)
    player.fill(np.zeros((480, 2), np.float32), began + 0.8 - player.timekeeper.now())
    asked = player._asked_at - began
    lose(player)
    assert player.note is not None and player.note.startswith("The sound device is gone: paused; ")
    assert player.paused
    here = player.position_s()
    assert here == pytest.approx(asked, abs=0.001)
    player.timekeeper.sleep(0.1)
    assert player.position_s() == here
    assert player.position_s(began + 0.2) == pytest.approx(0.2, abs=0.001)


def test_the_run_goes_on_half_a_second_before_when_the_device_is_back(
    cranked: Cranked, room: Room
) -> None:
    track = ramp(5)
    player = cranked(track)
    began = played(player, 0.8)
    soon(player, lambda: player.position_s() > 0.75)
    player.fill(np.zeros((480, 2), np.float32), began + 0.8 - player.timekeeper.now())
    lose(player)
    here = player.position_s()
    room.device = HandCranked()
    soon(player, lambda: not player.lost)
    assert player.note == "Sound is back on crank: going on." and not player.paused
    assert player.position_s() == here
    first = round(here * RATE) - round(GO_BACK_S * RATE)
    assert take(player, 480) == [float(value) for value in track.samples[first : first + 480]]
    player.timekeeper.sleep(0.005)
    assert player.position_s() == pytest.approx(here - GO_BACK_S + 0.005, abs=0.001)
    # A tap from before the loss that is looked at only now keeps its place.
    assert player.position_s(began + 0.3) == pytest.approx(0.3, abs=0.001)


def test_another_device_is_named_and_a_paused_run_stays_paused(
    cranked: Cranked, room: Room
) -> None:
    player = cranked(ramp(5))
    played(player, 0.1)
    player.pause()
    take(player, 480)
    lose(player)
    room.device = HandCranked()
    room.device.name = "ear"
    soon(player, lambda: not player.lost)
    assert player.note == "crank stayed away; sound is on ear now." and player.paused
    assert not any(take(player, 480))


def test_who_resumes_without_a_device_goes_on_silently_until_sound_comes_back(
    cranked: Cranked, room: Room
) -> None:
    player = cranked(ramp(5))
    played(player, 0.3)
    lose(player)
    here = player.position_s()
    player.resume()
    assert player.lost and not player.paused
    assert player.note is not None and player.note.startswith("Going on without sound")
    player.timekeeper.sleep(0.3)
    assert player.position_s() - here == pytest.approx(0.3, abs=0.001)
    player.pause()
    player.timekeeper.sleep(0.5)
    stood = player.position_s()
    player.timekeeper.sleep(0.1)
    assert player.position_s() == stood
    player.resume()
    room.device = HandCranked()
    soon(player, lambda: not player.lost)
    at = player.position_s()
    played(player, 0.5)
    player.timekeeper.sleep(0.2)
    assert player.position_s() - at == pytest.approx(0.2, abs=0.001)


def test_starting_over_without_a_device_waits_at_the_beginning(
    cranked: Cranked, room: Room
) -> None:
    track = ramp(5)
    player = cranked(track)
    played(player, 0.3)
    lose(player)
    player.restart()
    assert player.paused and player.position_s() == 0
    room.device = HandCranked()
    soon(player, lambda: not player.lost)
    assert player.position_s() == 0
    assert take(player, 480) == [float(value) for value in track.samples[:480]]


def test_a_device_that_only_stops_asking_is_noticed_too(cranked: Cranked) -> None:
    player = cranked(ramp(9))
    played(player, 0.3)
    soon(player, lambda: player.lost)
    assert player.position_s() < 0.3
