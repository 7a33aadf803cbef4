"""Promises of the way from a soundtrack to a device: every frame once, in time, without waiting."""

from __future__ import annotations

import itertools
import threading
import tracemalloc

import numpy as np
import pytest

from coach.sound.clip import RATE, Samples
from coach.sound.feed import Feed
from coach.sound.player import Player

from .crank import Cranked, soon, take, until
from .tape import Tape, ramp


def ready(player: Player, count: int) -> None:
    """Wait for the feed, as a device does that asks seldom enough, on however busy a machine."""

    def rendered() -> bool:
        (low, high), first = player._feed._ready, player._next
        return low <= first and min(first + count, player._feed.source.length) <= high

    soon(
        player, lambda: player._next + count <= RATE or rendered()
    )  # the first second is always there


def test_the_device_gets_every_sample_once_in_order_and_then_silence(cranked: Cranked) -> None:
    track = ramp(0.01)
    player = cranked(track)
    got = take(player, 200) + take(player, 200) + take(player, 200)
    assert got == [*map(float, track.samples), *[0.0] * 120]
    assert player.underruns == 0


@pytest.mark.parametrize("known_s", [0.3, 1.0, 2.345])
def test_what_is_made_later_is_played_on_without_a_seam_and_waited_for(
    cranked_beside: Cranked, known_s: float
) -> None:
    track = ramp(4.0)
    known = round(known_s * RATE)
    player = cranked_beside(Tape(track.samples[:known], whole=False))
    got: list[float] = []
    while len(got) < known + RATE:  # a second longer than there is anything
        ready(player, min(480, max(0, known - player._next)))
        got += take(player, 480)
    assert not any(got[known:]) and player.waiting and not player.finished
    assert player.position_s() == known / RATE
    player.extend(track)
    while player._next < track.length:
        ready(player, 480)
        got += take(player, 480)
    assert [value for value in got if value] == [float(value) for value in track.samples]
    assert player.underruns == 0


def test_a_device_faster_than_the_feed_hears_silence_and_still_every_sample_once(
    cranked_beside: Cranked,
) -> None:
    behind = threading.Event()

    class Slow(Tape):
        def frames(self, start: int, count: int) -> Samples:
            if start >= 5 * RATE:
                behind.wait(60)
            return super().frames(start, count)

    track = Slow(ramp(20).samples)
    player = cranked_beside(track)
    got: list[float] = []
    sizes = itertools.cycle((480, 1200, 7, 5000))
    while player._next < track.length:
        got += take(player, next(sizes))
        if player.underruns:
            behind.set()
    assert [value for value in got if value] == [float(value) for value in track.samples]
    assert player.underruns > 0
    waited = next(k for k, value in enumerate(got) if not value)
    origin = player.clock._ties[0].origin()
    assert origin is not None
    # The position stands where the silence begins.
    heard = [player.position_s(origin + frame / RATE) for frame in (waited, waited + 1)]
    assert heard == pytest.approx([waited / RATE] * 2)


def test_a_slow_enough_device_never_finds_the_feed_empty(cranked_beside: Cranked) -> None:
    track = ramp(12)
    player = cranked_beside(track)
    for _ in range(120):
        ready(player, 4800)
        take(player, 4800)
    assert player.underruns == 0 and player._next == track.length


def test_starting_over_is_answered_by_the_next_frame_from_anywhere(cranked_beside: Cranked) -> None:
    track = ramp(20)
    player = cranked_beside(track)
    for _ in range(150):
        ready(player, 4800)
        take(player, 4800)
    player.restart()
    got = take(player, 4800)
    for _ in range(14):
        ready(player, 4800)
        got += take(player, 4800)
    assert got == [float(value) for value in track.samples[: len(got)]] and player.underruns == 0


def test_a_device_with_one_channel_hears_both_sides() -> None:
    class Sides:
        whole = True
        length = 4800

        def frames(self, start: int, count: int) -> Samples:
            return np.tile(np.array([0.5, 0.25], np.float32), (count, 1))

    out = np.zeros((100, 1), np.float32)
    assert Feed(Sides()).take(0, out) == 100
    np.testing.assert_array_equal(out, np.float32(0.375))


def test_handing_over_frames_asks_for_no_memory(cranked_beside: Cranked) -> None:
    player = cranked_beside(ramp(40))
    outs = [np.zeros((480, channels), np.float32) for channels in (1, 2)]

    def fills(count: int) -> None:
        for k in range(count):
            ready(player, 480)
            player.fill(outs[k % 2], 0.0)

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
    player = cranked(ramp(1))  # nobody else works meanwhile
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


def test_a_source_that_fails_is_not_waited_for(cranked_beside: Cranked) -> None:
    class Broken(Tape):
        def frames(self, start: int, count: int) -> Samples:
            if start:
                raise ValueError("no more")
            return super().frames(start, count)

    player = cranked_beside(Broken(ramp(5).samples))
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


def test_a_device_that_ran_dry_is_counted_whether_it_says_so_or_only_asks_too_late(
    cranked: Cranked,
) -> None:
    player = cranked(ramp(5))
    out = np.zeros((4800, 2), np.float32)
    now = player.timekeeper.now
    began = now()

    def ask(late_s: float, *, fell_behind: bool = False) -> int:
        ready(player, len(out))
        heard_at = began + player.clock.frames / RATE + late_s
        player.fill(out, heard_at - now(), fell_behind=fell_behind)
        return player.underruns

    assert [ask(0.0) for _ in range(3)] == [0, 0, 0]
    assert [ask(0.6), ask(0.6)] == [0, 0]  # it hesitated at first
    assert [ask(0.6) for _ in range(10)] == [0] * 10
    assert [ask(1.2), ask(1.2)] == [1, 1]
    assert [ask(1.3, fell_behind=True), ask(1.3)] == [2, 2]
    player.pause()
    ask(1.3)
    assert ask(1.4, fell_behind=True) == 2
