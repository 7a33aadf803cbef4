"""The real thing: voices played into a null sink, heard through its monitor as a microphone."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

import coach
from coach.ears.trial import SAMPLES
from tests.sound.null_sink import NullSink

pytest.importorskip("pocketsphinx")

REPOSITORY = Path(coach.__file__).parent.parent
WORDS = tuple(line.words for line in SAMPLES[:4])

LISTEN = """
import json, sys, time
import numpy as np
from pathlib import Path
from scipy.signal import resample_poly
from coach.ears.ears import Ears
from coach.ears.source import open_microphone
from coach.ears.trial import SAMPLES
from coach.sound.outputs import open_player
from tests.ears.speakers import RATE, noise, say
from tests.sound.null_sink import ahead
from tests.sound.tape import Tape

words, voices, keep, stays = json.loads(sys.argv[1])
lines = [next(line for line in SAMPLES if line.words == one) for one in words]
sound = 0.0005 * noise("fan", (3 + 4 * len(words)) * RATE)
for number, line in enumerate(lines):
    said = say(line.words, *voices[number % len(voices)])
    at = (2 + 4 * number) * RATE
    sound[at : at + len(said)] += said
tape = Tape(resample_poly(sound, 3, 1).astype(np.float32))
ears = Ears(open_microphone(), keep_audio=Path(keep) if keep else None)
ahead()  # what plays and hears, and not the recogniser's process, which would take all there is
with open_player(tape) as player, ears:
    ears.wait()
    player.start()
    begun = time.perf_counter()
    for number, line in enumerate(lines):
        ears.expect(line.grammar, begun + 0.5 + 4 * number)
    heard, asked, over = [], False, False
    while not over:
        over = ears.heard_out  # before the last is taken, which may come in until then
        time.sleep(0.05)
        if stays and player.finished and not asked:
            ears.hear_out()
            asked = True
        for one in ears.utterances():
            late = time.perf_counter() - one.end_s
            heard.append((one.words, player.position_s(one.start_s), one.expected, late))
            print("heard", flush=True)
print(json.dumps({"heard": heard, "note": ears.note}))
"""


def hearing(sink: NullSink, *, keep: str = "", stays: bool = True) -> subprocess.Popen[str]:
    """What listens to the words, to the end or, where it does not stay, until its device is gone."""
    environment = {**sink.environment, "PULSE_SOURCE": "rehearsal_room.monitor"}
    about = json.dumps([WORDS, [["en-us", 175], ["en-us+f3", 165]], keep, stays])
    return subprocess.Popen(
        [sys.executable, "-c", LISTEN, about],
        env=environment,
        cwd=REPOSITORY,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def report(child: subprocess.Popen[str]) -> dict[str, Any]:
    out, err = child.communicate(timeout=200)
    assert (child.returncode, err) == (0, "")
    found: dict[str, Any] = json.loads(out.splitlines()[-1])
    return found


def test_what_is_said_into_a_microphone_is_heard_with_its_time_on_the_soundtrack(
    null_sink: NullSink, tmp_path: Path
) -> None:
    found = report(hearing(null_sink, keep=str(tmp_path / "kept.wav")))
    # How well it understands is another test's promise; this one's is the way and the time.
    told = [one[0] for one in found["heard"]]
    assert len(told) == len(WORDS)
    assert sum(one == words for one, words in zip(told, WORDS, strict=True)) >= 3, told
    for number, (_, position_s, expected, late_s) in enumerate(found["heard"]):
        print(f"onset off by {position_s - 2 - 4 * number:+.3f} s, told {late_s:.2f} s later")
        assert expected == number
        assert position_s == pytest.approx(2 + 4 * number, abs=0.12)
    assert found["note"] == ""
    import soundfile

    # All of it, and what came in before; how late it is told is a machine's load (`tests.bench.ears`).
    assert soundfile.info(tmp_path / "kept.wav").duration > 18.5


def test_a_microphone_taken_away_is_told_in_one_sentence_and_nothing_hangs(
    null_sink: NullSink,
) -> None:
    child = hearing(null_sink, stays=False)
    assert child.stdout is not None and child.stdout.readline() == "heard\n"
    time.sleep(0.3)
    null_sink.close()
    found = report(child)
    assert found["note"].endswith("the microphone, is gone; the rehearsal goes on with taps.")


OPEN = """
from coach.ears.source import open_microphone
from coach.problems import Problem
try:
    open_microphone({})
except Problem as problem:
    print(problem)
"""


def told(environment: dict[str, str], code: str) -> str:
    child = subprocess.run(
        [sys.executable, "-c", code],
        env=environment,
        cwd=REPOSITORY,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert child.stderr == ""
    return child.stdout.strip()


def test_no_microphone_an_unknown_one_and_no_portaudio_are_each_told_in_one_sentence(
    null_sink: NullSink,
) -> None:
    code = OPEN.format("'attic'")
    assert told(null_sink.environment, code).startswith("Found no microphone “attic”")
    without = "import ctypes.util; ctypes.util.find_library = lambda name: None\n"
    assert told(null_sink.environment, without + OPEN.format("")) == (
        "Listening needs the PortAudio library (libportaudio2), which is not here; "
        "the rehearsal goes on with taps."
    )
    null_sink.close()
    assert told(null_sink.environment, OPEN.format("")).startswith("No microphone was found")


def test_without_the_recogniser_the_extra_is_named(null_sink: NullSink) -> None:
    hidden = "import sys; sys.modules['pocketsphinx'] = None\n"
    assert told(null_sink.environment, hidden + OPEN.format("")) == (
        "Listening needs the extra “listen”: pip install '.[listen]' in the coach's own folder."
    )
