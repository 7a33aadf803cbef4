"""Promises of the spoken phrases. The voice is a real one."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from coach.problems import Problem
from coach.sound import voices
from coach.sound.clip import PHRASE_PEAK, RATE
from coach.sound.voices import speak

FAILING_WORKERS = {
    "hangs": "import time; time.sleep(60)",
    "hangs after one phrase": """
import json, pathlib, sys, time, numpy, soundfile
task = json.load(sys.stdin)
path = pathlib.Path(task["folder"], "0")
soundfile.write(path, numpy.sin(numpy.arange(9000) / 9), 22050, format="WAV")
print('{"spoken": 0}', flush=True)
time.sleep(60)
""",
    "dies": "import os; os.abort()",
    "complains": """print('{"problem": "the voice said it has a cold"}')""",
    "says half a line": "print('{\"spok', end='')",
}

# Hands over an empty file for one phrase of several.
FORGETFUL_WORKER = """
import json, pathlib, sys, numpy, soundfile
task = json.load(sys.stdin)
for number, text in enumerate(task["texts"]):
    sound = numpy.sin(numpy.arange(9000) / 9) if number or len(task["texts"]) == 1 else []
    soundfile.write(pathlib.Path(task["folder"], str(number)), sound, 22050, format="WAV")
    print(json.dumps({"spoken": number}), flush=True)
"""


def use_worker(monkeypatch: pytest.MonkeyPatch, folder: Path, what: str) -> Path:
    script, process_id = folder / "worker.py", folder / "process_id"
    note = f"import os; open({str(process_id)!r}, 'w').write(str(os.getpid()))\n"
    script.write_text(note + FAILING_WORKERS[what])
    monkeypatch.setattr(voices, "_WORKER", (sys.executable, str(script)))
    return process_id


def test_every_phrase_is_spoken_once_with_no_silence_around_it() -> None:
    spoken = speak(["bank thirty", "nose on the horizon", "bank thirty", " "])
    assert spoken.problem is None
    assert list(spoken.clips) == ["bank thirty", "nose on the horizon"]
    for clip in spoken.clips.values():
        assert clip.samples.dtype == np.float32 and clip.samples.ndim == 1
        assert 0.3 < clip.length_s == len(clip.samples) / RATE < 3
        loud = np.flatnonzero(np.abs(clip.samples) > 0.01)
        assert loud[0] < 0.05 * RATE and len(clip.samples) - loud[-1] < 0.1 * RATE


def test_phrases_are_about_equally_loud_and_none_is_too_high() -> None:
    texts = ["stop", "bank thirty, speed sixty two, nose on the horizon", "ease", "right rudder"]
    loudness = []
    for clip in speak(texts).clips.values():
        assert np.abs(clip.samples).max() <= PHRASE_PEAK + 1 / 32_767
        loudness.append(20 * np.log10(np.sqrt((clip.samples**2).mean())))
    assert max(loudness) - min(loudness) < 4


def test_a_faster_voice_takes_less_time() -> None:
    text = "bank thirty, nose on the horizon"
    slow, fast = (speak([text], words_per_minute=rate).clips[text] for rate in (120, 240))
    assert fast.length_s < 0.75 * slow.length_s


def test_another_voice_sounds_different() -> None:
    british, american = (
        speak(["hard turn"], voice=f"English ({place})") for place in ("Great Britain", "America")
    )
    assert british.clips["hard turn"].length_s != american.clips["hard turn"].length_s


def test_an_unknown_voice_is_answered_with_the_nearest_one() -> None:
    with pytest.raises(Problem, match=r"no voice called Englsh.*did you mean English \(America\)"):
        speak(["bank"], voice="Englsh (America)")


def test_an_impossible_speed_is_refused() -> None:
    with pytest.raises(Problem, match="60 to 500 words a minute, not 5"):
        speak(["bank"], words_per_minute=5)


def test_phrases_come_from_the_cache_without_a_voice_and_sound_the_same(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    first = speak(["bank thirty"]).clips["bank thirty"]
    use_worker(monkeypatch, tmp_path, "dies")
    again = speak(["bank thirty"])
    assert again.problem is None
    np.testing.assert_array_equal(again.clips["bank thirty"].samples, first.samples)


@pytest.mark.parametrize("damage", ["cut short", "one byte changed", "emptied"])
def test_a_damaged_cache_file_is_made_again(own_folder: Path, damage: str) -> None:
    first = speak(["bank thirty"]).clips["bank thirty"]
    (file,) = (own_folder / "cache" / "phrases").iterdir()
    whole = file.read_bytes()
    middle = len(whole) // 2
    spoilt = {
        "cut short": whole[:middle],
        "one byte changed": whole[:middle] + bytes([whole[middle] ^ 255]) + whole[middle + 1 :],
        "emptied": b"",
    }
    file.write_bytes(spoilt[damage])
    np.testing.assert_array_equal(
        speak(["bank thirty"]).clips["bank thirty"].samples, first.samples
    )
    assert len(file.read_bytes()) == len(whole)


def test_without_a_place_for_the_cache_phrases_are_spoken_all_the_same(own_folder: Path) -> None:
    own_folder.write_text("a file where the folder should be")
    assert "bank" in speak(["bank"]).clips


def test_a_hanging_voice_is_ended_in_time_and_what_it_said_is_kept(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    process_id = use_worker(monkeypatch, tmp_path, "hangs after one phrase")
    began = time.monotonic()
    spoken = speak(["bank", "pitch", "power"], limit_s=2)
    assert time.monotonic() - began < 4
    assert list(spoken.clips) == ["bank"]
    assert spoken.problem == (
        "2 of 3 phrases could not be spoken: the voice took longer than 2 seconds."
    )
    with pytest.raises(ProcessLookupError):
        os.kill(int(process_id.read_text()), 0)


def test_a_phrase_that_came_out_empty_is_spoken_once_more(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    script = tmp_path / "worker.py"
    script.write_text(FORGETFUL_WORKER)
    monkeypatch.setattr(voices, "_WORKER", (sys.executable, str(script)))
    spoken = speak(["bank", "pitch", "power"])
    assert spoken.problem is None
    assert set(spoken.clips) == {"bank", "pitch", "power"}


@pytest.mark.parametrize("what", FAILING_WORKERS)
def test_whatever_the_voice_does_the_coach_goes_on_and_says_so_in_a_sentence(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, what: str
) -> None:
    use_worker(monkeypatch, tmp_path, what)
    spoken = speak(["pitch", "power"], limit_s=1.5)
    assert spoken.problem is not None and "could not be spoken: the voice" in spoken.problem
