"""The real thing: a tape played into a null sink, recorded, and compared sample by sample."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
import time
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest

from coach.sound.clip import RATE
from coach.sound.player import GO_BACK_S

from .null_sink import NullSink
from .playing import (
    ENDS_EARLY,
    SWALLOWED,
    Playing,
    is_true,
    ready_to_record,
    recorded,
    run_in,
    steady,
    told,
)
from .tape import noise


@pytest.fixture
def busy() -> Iterator[None]:
    """Every processor has something else to do."""
    burners = [multiprocessing.Process(target=_burn) for _ in range(_processors())]
    for burner in burners:
        burner.start()
    yield
    for burner in burners:
        burner.kill()
        burner.join()


def _processors() -> int:
    """How many there are for these tests, of however many the machine has."""
    if sys.platform == "linux":
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _above_the_tests() -> None:
    """What plays and what burns share the processors among themselves, whatever else is tested."""
    with contextlib.suppress(AttributeError, PermissionError):
        os.nice(-10)


def _burn() -> None:
    _above_the_tests()
    while True:
        sum(range(10_000))


def stood(report: dict[str, Any]) -> int:
    """The one frame at which it stood while its device was gone."""
    here: int
    (here,) = {round(at * RATE) for _, at, paused in report["heard"] if paused}
    return here


BACKENDS = [("portaudio", "PortAudioDevice"), ("miniaudio", "MiniaudioDevice")]


@pytest.mark.parametrize(("backend", "kind"), BACKENDS)
def test_every_sample_is_heard_in_its_place_and_the_position_says_when(
    null_sink: NullSink, backend: str, kind: str
) -> None:
    tape = noise(3)
    null_sink.start_recording()
    report = Playing(null_sink, 3, backend).report()
    recording = recorded(null_sink)
    assert (report["kind"], report["notes"], report["underruns"]) == (kind, [], 0)
    run = run_in(recording.samples, tape.samples, RATE)
    steady(recording.samples, run)
    assert run.first < SWALLOWED and tape.length - run.end < ENDS_EARLY
    is_true(report, recording, run, 0.5)


def test_every_sample_is_heard_in_its_place_while_the_processors_are_busy(
    null_sink: NullSink, busy: None
) -> None:
    tape = noise(5)
    null_sink.start_recording()
    report = Playing(null_sink, 5, "portaudio", priority=_above_the_tests).report()
    recording = recorded(null_sink)
    run = run_in(recording.samples, tape.samples, RATE)
    steady(recording.samples, run)
    assert run.first < SWALLOWED and tape.length - run.end < ENDS_EARLY and report["underruns"] == 0


def test_a_pause_loses_and_repeats_nothing_and_the_position_stays_true(
    null_sink: NullSink,
) -> None:
    tape = noise(3)
    null_sink.start_recording()
    report = Playing(null_sink, 3, "portaudio", pause_s=0.7).report()
    recording = recorded(null_sink)
    before = run_in(recording.samples, tape.samples, RATE)
    after = run_in(recording.samples, tape.samples, 2 * RATE)
    steady(recording.samples, before, after)
    assert (
        before.first < SWALLOWED
        and before.end == after.first
        and tape.length - after.end < ENDS_EARLY
    )
    stood_s = report["stood_s"]  # as long as it was told to sleep, or longer
    assert after.at - before.at - before.count == pytest.approx(stood_s * RATE, abs=0.1 * RATE)
    is_true(report, recording, before, 0.5)
    is_true(report, recording, after, after.first / RATE + 0.2)


@pytest.mark.parametrize(
    ("backend", "take", "give"),
    [
        ("portaudio", NullSink.take_away, NullSink.give),
        ("portaudio", NullSink.close, NullSink.start_server),
        ("miniaudio", NullSink.take_away, NullSink.give),
    ],
)
def test_a_device_taken_away_and_given_back_pauses_the_run_and_nothing_is_lost(
    null_sink: NullSink,
    backend: str,
    take: Callable[[NullSink], None],
    give: Callable[[NullSink], None],
) -> None:
    tape = noise(3)
    null_sink.start_recording()
    playing = Playing(null_sink, 3, backend, known_s=2)
    playing.until("heard 1 s")
    take(null_sink)
    first = null_sink.stop_recording()
    playing.until("looked")
    with ready_to_record(null_sink):
        give(null_sink)
    report = playing.report()
    heard, again = first.samples, recorded(null_sink).samples
    first.is_steady()

    lost, back = report["notes"]
    assert lost.startswith("The sound device is gone: paused; ") and not report["lost"]
    assert back.startswith("Sound is back on ") and back.endswith(": going on.")
    here = stood(report)
    before = run_in(heard, tape.samples, RATE // 2)
    after = run_in(again, tape.samples, round(2.5 * RATE))
    steady(heard, before)
    steady(again, after)
    print(f"last heard {before.end / RATE:.3f} s, stood {here / RATE:.3f} s")
    assert before.first < SWALLOWED and tape.length - after.end < ENDS_EARLY
    # A recorder that loses its server misses the last few milliseconds of what it was given.
    assert -SWALLOWED < before.end - here < 0.15 * RATE
    assert 0 <= after.first - (here - round(GO_BACK_S * RATE)) < SWALLOWED
    assert report["underruns"] == 0


def test_who_goes_on_without_sound_hears_it_again_where_the_run_is(null_sink: NullSink) -> None:
    tape = noise(5)
    null_sink.start_recording()
    playing = Playing(null_sink, 5, "portaudio", resume_lost=True, known_s=4)
    playing.until("heard 1 s")
    null_sink.take_away()
    null_sink.stop_recording()
    playing.until("Going on without sound")
    with ready_to_record(null_sink):
        null_sink.give()
    playing.until("Sound is back")
    report = playing.report()
    recording = recorded(null_sink)
    run = run_in(recording.samples, tape.samples, round(4.5 * RATE))
    steady(recording.samples, run)
    assert tape.length - run.end < ENDS_EARLY and not report["lost"]
    # It stood where it was heard when the device asked last, which may be a while ago.
    times, positions, _ = np.array(report["heard"]).T
    since_s = times - report["asked"]
    assert (np.diff(positions) > -0.1 - since_s[1:]).all()
    is_true(report, recording, run, 4.2)


def test_a_named_device_that_stays_away_is_replaced_by_the_usual_one(null_sink: NullSink) -> None:
    tape = noise(3)
    null_sink.start_recording()
    playing = Playing(null_sink, 3, "portaudio", "miniaudio", output="Null Output", known_s=2)
    playing.until("heard 1 s")
    null_sink.take_away()
    null_sink.stop_recording()
    playing.until("The sound device is gone")
    with ready_to_record(null_sink, "attic"):
        null_sink.give("attic", "the-attic")
    report = playing.report()
    recording = recorded(null_sink)
    after = run_in(recording.samples, tape.samples, round(2.5 * RATE))
    steady(recording.samples, after)
    assert tape.length - after.end < ENDS_EARLY
    assert 0 <= after.first - (stood(report) - round(GO_BACK_S * RATE)) < SWALLOWED
    assert report["notes"][1] == "Null Output stayed away; sound is on default now: going on."


def test_a_program_that_is_halted_and_goes_on_has_not_lost_its_device(
    null_sink: NullSink,
) -> None:
    null_sink.start_recording()
    playing = Playing(null_sink, 2, "portaudio", known_s=1.8)
    playing.until("heard 1 s")
    playing.child.send_signal(signal.SIGSTOP)
    time.sleep(1.5)
    playing.child.send_signal(signal.SIGCONT)
    report = playing.report()
    assert report["notes"] == [] and report["underruns"] >= 1
    times, positions, _ = np.array(report["heard"]).T
    halted = np.diff(times).argmax()
    assert np.diff(positions)[halted] < np.diff(times)[halted] - 1.0


def test_what_can_be_played_on_is_listed(null_sink: NullSink) -> None:
    code = (
        "from coach.sound.outputs import outputs\n"
        "for output in outputs(): print(output.name, output.backend, output.usual)"
    )
    assert told(null_sink, code) == (
        "pulse PortAudio False\ndefault PortAudio True\nNull Output miniaudio False\n"
        "silent captions only False\n"
    )


def test_without_the_portaudio_library_miniaudio_carries_the_sound(null_sink: NullSink) -> None:
    code = (
        "import ctypes.util; ctypes.util.find_library = lambda name: None\n"
        "from coach.sound import outputs; from tests.sound.tape import noise\n"
        "with outputs.open_player(noise(1)) as player:\n"
        "    print(type(player._device).__name__, player.note)"
    )
    assert told(null_sink, code) == "MiniaudioDevice None\n"


def test_a_screen_that_asks_for_the_position_all_the_time_does_not_starve_the_device(
    null_sink: NullSink,
) -> None:
    code = (
        "import time; from coach.sound import outputs; from tests.sound.tape import noise\n"
        "player = outputs.open_player(noise(10))\n"
        "player.start()\n"
        "while player.position_s() < 0.5: time.sleep(0.01)\n"
        "end = time.perf_counter() + 3; off = []\n"
        "while (now := time.perf_counter()) < end:\n"
        "    sum(i * i for i in range(60_000)); off.append(now - player.position_s(now))\n"
        "player.stop(); print(player.underruns, player.lost, max(off) - min(off) < 0.01)"
    )
    null_sink.start_recording()
    said = told(null_sink, code)
    recorded(null_sink)
    assert said == "0 False True\n"


def test_an_output_that_hesitates_at_first_is_not_lost(null_sink: NullSink) -> None:
    code = (
        "import time; from coach.sound import outputs; from tests.sound.tape import noise\n"
        "with outputs.open_player(noise(0.5)) as player:\n"
        "    player.start(); begun = time.perf_counter()\n"
        "    while not player.finished: time.sleep(0.02)\n"
        "    print(player.note, player.underruns, time.perf_counter() - begun > 1)"
    )
    # A null sink that nobody records holds back the first sound for almost two seconds.
    assert told(null_sink, code) == "None 0 True\n"
