"""The real thing: a soundtrack played into a null sink, recorded, and held against its plan."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from scipy.signal import correlate

import coach
from coach.callouts.cuesheet import CueSheet
from coach.sound.clip import RATE, Clip
from coach.sound.files import write
from coach.sound.soundtrack import mix
from coach.sound.tones import tone

from .null_sink import NullSink

REPOSITORY = Path(coach.__file__).parent.parent
PLAY = """
import json, sys, time
import soundfile
from importlib import import_module
from coach.sound import outputs
from coach.sound.soundtrack import Soundtrack

path, backend, pause_s = sys.argv[1], sys.argv[2], float(sys.argv[3])
outputs._backends = lambda: [import_module(f"coach.sound.backends.{backend}")]
with outputs.open_player(Soundtrack(soundfile.read(path, dtype="float32")[0])) as player:
    player.start()
    print("playing", flush=True)
    heard, paused = [], pause_s == 0
    while not player.finished:
        time.sleep(0.05)
        now = time.perf_counter()
        heard.append((now, player.position_s(now)))
        if not paused and heard[-1][1] > 4:
            paused = True
            player.pause()
            time.sleep(pause_s)
            player.resume()
    print(json.dumps({"heard": heard, "note": player.note, "lost": player.lost,
                      "underruns": player.underruns, "kind": type(player._device).__name__}))
"""


def play(sink: NullSink, track: Path, backend: str, pause_s: float = 0) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", PLAY, str(track), backend, str(pause_s)],
        env=sink.environment,
        cwd=REPOSITORY,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def places(recorded: npt.NDArray[np.float32], count: int) -> list[int]:
    """Where the checkpoint's tone is in the recording, by matched filter, in order."""
    shape = tone("checkpoint").samples
    likeness = correlate(recorded, shape, "valid")
    found = []
    for _ in range(count):
        best = int(likeness.argmax())
        found.append(best)
        likeness[max(0, best - RATE // 5) : best + RATE // 5] = 0
    return sorted(found)


@pytest.fixture
def track(tmp_path: Path, sheet: CueSheet, clips: Mapping[str, Clip]) -> Path:
    path = tmp_path / "track.wav"
    write(mix(sheet, clips), path)
    return path


@pytest.mark.parametrize(
    ("backend", "kind"), [("portaudio", "PortAudioDevice"), ("miniaudio", "MiniaudioDevice")]
)
def test_what_is_heard_is_what_was_planned(
    null_sink: NullSink,
    track: Path,
    sheet: CueSheet,
    clips: Mapping[str, Clip],
    backend: str,
    kind: str,
) -> None:
    null_sink.start_recording()
    child = play(null_sink, track, backend)
    out, err = child.communicate(timeout=60)
    time.sleep(0.3)
    recording = null_sink.stop_recording()
    assert child.returncode == 0 and err == ""
    report = json.loads(out.splitlines()[-1])
    assert (report["kind"], report["note"], report["lost"]) == (kind, None, False)

    planned = [cue.start_s for cue in sheet.cues if cue.tone]
    found = places(recording.samples, len(planned))
    begun = found[0] - planned[0] * RATE
    for start_s, at in zip(planned, found, strict=True):
        assert abs(at - begun - start_s * RATE) < 0.001 * RATE

    for cue in sheet.cues:
        if cue.phrase:
            clip = clips[cue.phrase.spoken].samples
            at, slack = round(begun + cue.start_s * RATE), RATE // 10
            likeness = correlate(
                recording.samples[at - slack : at + len(clip) + slack], clip, "valid"
            )
            best = int(likeness.argmax())
            part = recording.samples[at - slack + best :][: len(clip)]
            assert abs(best - slack) < 0.001 * RATE
            alike = likeness[best] / np.sqrt((part**2).sum() * (clip**2).sum())
            assert alike > 0.8, cue  # a tone lies over some of them
    assert np.abs(recording.samples).max() < 0.9

    times, positions = np.array(report["heard"]).T
    for start_s, at in zip(planned, found, strict=True):
        said = np.interp(recording.started_at + at / RATE, times, positions)
        # The recording's own time is good to about 10 ms.
        assert said == pytest.approx(start_s, abs=0.015)


def test_the_position_stays_true_across_a_pause(null_sink: NullSink, track: Path) -> None:
    null_sink.start_recording()
    child = play(null_sink, track, "portaudio", pause_s=0.7)
    out, err = child.communicate(timeout=60)
    recording = null_sink.stop_recording()
    assert child.returncode == 0 and err == ""
    times, positions = np.array(json.loads(out.splitlines()[-1])["heard"]).T
    found = places(recording.samples, 5)
    assert (found[2] - found[1]) / RATE == pytest.approx(5.12345 - 2.7 + 0.7, abs=0.1)
    for start_s, at in zip((0.5, 2.7, 5.12345, 8.0, 11.5), found, strict=True):
        said = np.interp(recording.started_at + at / RATE, times, positions)
        assert said == pytest.approx(start_s, abs=0.015)


@pytest.mark.parametrize("backend", ["portaudio", "miniaudio"])
def test_when_the_device_vanishes_the_time_goes_on_and_the_screen_stays_clean(
    null_sink: NullSink, track: Path, backend: str
) -> None:
    null_sink.start_recording()
    child = play(null_sink, track, backend)
    assert child.stdout is not None and child.stdout.readline() == "playing\n"
    time.sleep(2)
    null_sink.close()
    out, err = child.communicate(timeout=60)
    assert child.returncode == 0 and err == ""
    report = json.loads(out)
    assert report["lost"] and "captions only" in report["note"]
    times, positions = np.array(report["heard"]).T
    on = (positions > 0.7) & (positions < positions[-1] - 0.1)
    drift = (times - positions)[on]
    assert np.ptp(drift) < 0.015 and positions[-1] == pytest.approx(12, abs=0.001)


def test_without_the_portaudio_library_miniaudio_carries_the_sound(null_sink: NullSink) -> None:
    code = (
        "import ctypes.util; ctypes.util.find_library = lambda name: None\n"
        "import numpy; from coach.sound import outputs, soundtrack\n"
        "with outputs.open_player(soundtrack.Soundtrack(numpy.zeros(480, 'f4'))) as player:\n"
        "    print(type(player._device).__name__, player.note)"
    )
    child = subprocess.run(
        [sys.executable, "-c", code],
        env=null_sink.environment,
        cwd=REPOSITORY,
        capture_output=True,
        text=True,
        timeout=30,
    )
    assert (child.stdout, child.stderr) == ("MiniaudioDevice None\n", "")


def test_a_screen_that_asks_for_the_position_all_the_time_does_not_starve_the_device(
    null_sink: NullSink,
) -> None:
    code = (
        "import time, numpy; from coach.sound import outputs, soundtrack\n"
        "player = outputs.open_player(soundtrack.Soundtrack(numpy.zeros(480_000, 'f4')))\n"
        "player.start(); time.sleep(0.5); end = time.perf_counter() + 3; off = []\n"
        "while (now := time.perf_counter()) < end:\n"
        "    sum(i * i for i in range(60_000)); off.append(now - player.position_s(now))\n"
        "player.stop(); print(player.underruns, player.lost, max(off) - min(off) < 0.01)"
    )
    null_sink.start_recording()
    child = subprocess.run(
        [sys.executable, "-c", code],
        env=null_sink.environment,
        cwd=REPOSITORY,
        capture_output=True,
        text=True,
        timeout=30,
    )
    assert (child.stdout, child.stderr) == ("0 False True\n", "")
