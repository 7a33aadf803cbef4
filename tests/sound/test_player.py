"""Promises of the player and of the way a device is chosen. No loudspeaker is needed."""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

import coach
from coach.problems import Problem
from coach.sound import outputs as ways
from coach.sound.backends import Fill, Output, silent
from coach.sound.clip import RATE, Samples
from coach.sound.feed import Feed, Source
from coach.sound.outputs import open_player, outputs
from coach.sound.player import GO_BACK_S, Player

from .tape import Tape, ramp

REPOSITORY = Path(coach.__file__).parent.parent


class HandCranked:
    """A device that asks when the test says so."""

    name = "crank"

    def __init__(self) -> None:
        self.alive = True

    def start(self) -> None: ...

    def close(self) -> None: ...


class Room:
    """Where devices are looked for: the test puts one in."""

    def __init__(self) -> None:
        self.device: HandCranked | None = None

    def __call__(self, fill: Fill, missed_s: float) -> HandCranked | None:
        found, self.device = self.device, None
        return found


@pytest.fixture
def room() -> Room:
    return Room()


@pytest.fixture
def cranked(room: Room) -> Iterator[Callable[[Source], Player]]:
    players = []

    def begun(source: Source) -> Player:
        player = Player(source, room)
        player.attach(HandCranked())
        player.start()
        players.append(player)
        return player

    yield begun
    for player in players:
        player.stop()


def until(true: Callable[[], bool], limit_s: float = 4.0) -> None:
    deadline = time.monotonic() + limit_s
    while not true():
        assert time.monotonic() < deadline
        time.sleep(0.005)


def lose(player: Player) -> None:
    device = player._device
    assert isinstance(device, HandCranked)
    device.alive = False
    until(lambda: player.lost)


def take(player: Player, count: int) -> list[float]:
    out = np.full((count, 2), np.nan, dtype=np.float32)
    player.fill(out, 0.0)
    np.testing.assert_array_equal(out[:, 0], out[:, 1])
    return [float(value) for value in out[:, 0]]


Cranked = Callable[[Source], Player]


def test_the_device_gets_every_sample_once_in_order_and_then_silence(cranked: Cranked) -> None:
    track = ramp(0.01)
    player = cranked(track)
    got = take(player, 200) + take(player, 200) + take(player, 200)
    assert got == [*map(float, track.samples), *[0.0] * 120]
    assert player.underruns == 0


def test_a_device_faster_than_the_feed_hears_silence_and_still_every_sample_once(
    cranked: Cranked,
) -> None:
    track = ramp(20)
    player = cranked(track)
    got: list[float] = []
    sizes = itertools.cycle((480, 1200, 7, 5000))
    while player._next < track.length:
        got += take(player, next(sizes))
    assert [value for value in got if value] == [float(value) for value in track.samples]
    assert player.underruns > 0
    waited = next(k for k, value in enumerate(got) if not value)
    origin = player.clock._stretches[0].origin()
    assert origin is not None
    # The position stands where the silence begins.
    heard = [player.position_s(origin + frame / RATE) for frame in (waited, waited + 1)]
    assert heard == pytest.approx([waited / RATE] * 2)


def test_a_slow_enough_device_never_finds_the_feed_empty(cranked: Cranked) -> None:
    track = ramp(12)
    player = cranked(track)
    for _ in range(120):
        take(player, 4800)
        time.sleep(0.005)
    assert player.underruns == 0 and player._next == track.length


def test_starting_over_is_answered_by_the_next_frame_from_anywhere(cranked: Cranked) -> None:
    track = ramp(20)
    player = cranked(track)
    for _ in range(150):
        take(player, 4800)
        time.sleep(0.005)
    player.restart()
    got: list[float] = []
    for _ in range(15):
        got += take(player, 4800)
        time.sleep(0.01)
    assert got == [float(value) for value in track.samples[: len(got)]] and player.underruns == 0


def test_a_device_with_one_channel_hears_both_sides() -> None:
    class Sides:
        length = 4800

        def frames(self, start: int, count: int) -> Samples:
            return np.tile(np.array([0.5, 0.25], np.float32), (count, 1))

    out = np.zeros((100, 1), np.float32)
    assert Feed(Sides()).take(0, out) == 100
    np.testing.assert_array_equal(out, np.float32(0.375))


def test_handing_over_frames_asks_for_no_memory(cranked: Cranked) -> None:
    player = cranked(ramp(40))
    outs = [np.zeros((480, channels), np.float32) for channels in (1, 2)]

    def fills(count: int) -> None:
        for k in range(count):
            player.fill(outs[k % 2], 0.0)
            time.sleep(0.0005)

    fills(50)
    tracemalloc.start()
    fills(50)
    before = tracemalloc.take_snapshot()
    fills(1000)
    grown = tracemalloc.take_snapshot().compare_to(before, "filename")
    tracemalloc.stop()
    # Numbers are replaced by other numbers; that is all.
    here = [line for line in grown if "/coach/sound/" in line.traceback[0].filename]
    assert sum(line.size_diff for line in here) < 1000
    assert player.underruns == 0


def test_not_even_for_a_moment(cranked: Cranked) -> None:
    player = cranked(ramp(1))  # all of it is ready, so nobody else works meanwhile
    outs = [np.zeros((480, channels), np.float32) for channels in (1, 2)]
    tracemalloc.start()
    take(player, 480)
    before, _ = tracemalloc.get_traced_memory()
    tracemalloc.reset_peak()
    for k in range(90):
        player.fill(outs[k % 2], 0.0)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most - before < 480 * 4  # less than one channel of what was handed over


def test_a_source_that_fails_is_not_waited_for(cranked: Cranked) -> None:
    class Broken(Tape):
        def frames(self, start: int, count: int) -> Samples:
            if start:
                raise ValueError("no more")
            return super().frames(start, count)

    player = cranked(Broken(ramp(5).samples))
    until(lambda: player._feed.failure is not None)
    with pytest.raises(ValueError, match="no more"):
        player.position_s()


def test_a_pause_is_silent_and_loses_no_sample(cranked: Cranked) -> None:
    track = ramp(0.01)
    player = cranked(track)
    got = take(player, 100)
    player.pause()
    assert player.paused and take(player, 50) == [0.0] * 50
    player.resume()
    assert not player.paused
    assert got + take(player, 380) == [float(value) for value in track.samples]


def test_starting_over_during_a_pause_plays_from_the_beginning_even_if_resumed_at_once(
    cranked: Cranked,
) -> None:
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


def played(player: Player, seconds: float) -> float:
    """Have the device ask for so much as fast as it can; when its first frame is heard."""
    began = time.perf_counter()
    for block in range(round(seconds * 100)):
        out = np.zeros((480, 2), np.float32)
        player.fill(out, began + block / 100 - time.perf_counter())
    return began


def test_a_device_that_vanishes_pauses_the_run_where_it_was_last_heard(cranked: Cranked) -> None:
    player = cranked(ramp(5))
    began = played(player, 0.8)
    time.sleep(0.3)
    player.fill(np.zeros((480, 2), np.float32), began + 0.8 - time.perf_counter())
    asked = player._asked_at - began
    lose(player)
    assert player.note is not None and player.note.startswith("The sound device is gone: paused; ")
    assert player.paused
    here = player.position_s()
    assert here == pytest.approx(asked, abs=0.001)
    time.sleep(0.1)
    assert player.position_s() == here
    assert player.position_s(began + 0.2) == pytest.approx(0.2, abs=0.001)


def test_the_run_goes_on_half_a_second_before_when_the_device_is_back(
    cranked: Cranked, room: Room
) -> None:
    track = ramp(5)
    player = cranked(track)
    began = played(player, 0.8)
    until(lambda: player.position_s() > 0.75)
    player.fill(np.zeros((480, 2), np.float32), began + 0.8 - time.perf_counter())
    lose(player)
    here = player.position_s()
    room.device = HandCranked()
    until(lambda: not player.lost)
    assert player.note == "Sound is back on crank: going on." and not player.paused
    assert player.position_s() == here
    first = round(here * RATE) - round(GO_BACK_S * RATE)
    assert take(player, 480) == [float(value) for value in track.samples[first : first + 480]]
    assert player.position_s() == pytest.approx(here - GO_BACK_S, abs=0.02)
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
    until(lambda: not player.lost)
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
    time.sleep(0.3)
    assert player.position_s() == pytest.approx(here + 0.3, abs=0.05)
    player.pause()
    time.sleep(0.1)
    stood = player.position_s()
    time.sleep(0.1)
    assert player.position_s() == stood
    player.resume()
    room.device = HandCranked()
    until(lambda: not player.lost)
    at = player.position_s()
    played(player, 0.5)
    assert player.position_s() == pytest.approx(at, abs=0.05)


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
    until(lambda: not player.lost)
    assert player.position_s() == 0
    assert take(player, 480) == [float(value) for value in track.samples[:480]]


def test_a_device_that_only_stops_asking_is_noticed_too(cranked: Cranked) -> None:
    player = cranked(ramp(9))
    played(player, 0.3)
    until(lambda: player.lost, 6)
    assert player.position_s() < 0.3


def test_the_environment_can_ask_for_silence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_OUTPUT", "silent")
    player = open_player(ramp(0.1))
    assert isinstance(player._device, silent.SilentDevice)


def test_an_unknown_device_is_answered_with_what_there_is() -> None:
    with pytest.raises(Problem, match="no sound device called silnt; did you mean silent"):
        open_player(ramp(0.1), "silnt")


def backend(*names: str) -> Any:
    """A back end of such devices, the first of which is the usual one."""

    def open_device(fill: Fill, name: str | None) -> HandCranked:
        device = HandCranked()
        device.name = name or names[0]
        return device

    return SimpleNamespace(
        Refused=OSError,
        open_device=open_device,
        outputs=lambda: [Output(name, "a back end", name == names[0], 0.1) for name in names],
    )


def test_every_way_is_listed_once_and_silence_is_always_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(ways, "_backends", lambda: [backend("desk", "ear"), backend("ear", "far")])
    assert [(output.name, output.usual) for output in outputs()] == [
        ("desk", True),
        ("ear", False),
        ("far", False),
        ("silent", False),
    ]
    monkeypatch.setattr(ways, "_backends", list)
    assert outputs() == [Output("silent", "captions only", True, None)]


def test_a_named_device_is_waited_for_a_while_before_the_usual_one_stands_in(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def again(wanted: str | None, missed_s: float) -> str | None:
        device = ways._find_again(wanted, lambda *_, **__: None, missed_s)
        return None if device is None else device.name

    monkeypatch.setattr(ways, "_backends", lambda: [backend("desk")])
    assert again(None, 0.0) == "desk"
    assert again("ear", ways.NAMED_AWAY_S - 1) is None
    assert again("ear", ways.NAMED_AWAY_S) == "desk"
    monkeypatch.setattr(ways, "_backends", lambda: [backend("desk", "ear")])
    assert again("ear", 0.0) == "ear"


def test_a_machine_without_a_sound_device_is_told_so_in_one_sentence_and_sees_no_noise(
    tmp_path: Path,
) -> None:
    no_such_card = tmp_path / "alsa.conf"
    no_such_card.write_text("pcm.!default { type hw card 31 }")
    code = (
        "from coach.sound import outputs; from tests.sound.tape import ramp;"
        "p = outputs.open_player(ramp(0.01));"
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
