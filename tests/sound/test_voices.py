"""Promises of the spoken phrases. The voices are real ones, and some that are out of order."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from importlib.metadata import metadata
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
from scipy.signal import resample_poly

from coach.problems import Problem
from coach.sound import phrases, voices, worker
from coach.sound.clip import LOUDNESS_LUFS, PHRASE_TRUE_PEAK, RATE, Clip, true_peak
from coach.sound.speakers import hibari
from coach.sound.voices import speak

OWN, SYSTEM = voices.SPEAKERS
USUAL = "heart"

# A speaker that beeps, written to a module of its own with what is wrong with it.
BEEPING = """
import os, time, numpy, soundfile
from coach.sound.speakers import Voice

def voices():
    {listing}
    return [Voice("beeper", "b", __name__, "beeps", "en", "none")]

def speak(texts, folder, voice, words_per_minute):
    for number, text in enumerate(texts):
        beep = numpy.sin(numpy.arange(9000) / 9)
        {speaking}
        soundfile.write(folder / str(number), beep, 22050, format="WAV")
        yield number
"""

HANGS = "open(__file__ + '.pid', 'w').write(str(os.getpid())); time.sleep(600)"
OUT_OF_ORDER = {
    "hangs": HANGS,
    "dies": "os.abort()",
    "complains": "raise RuntimeError('I have a cold')",
    "says nothing": "beep = beep[:0]",
}


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Of a student whose coach never spoke before."""
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture
def beeper(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Beeper:
    return Beeper(monkeypatch, tmp_path)


class Beeper:
    """Adds a beeping speaker to those of the machine, or puts it in their place.

    Meanwhile time goes by only where one of its processes hangs, 3 s a look: one that a busy
    machine begins or goes on with slowly is none that is out of order.
    """

    made = 0

    def __init__(self, patch: pytest.MonkeyPatch, folder: Path) -> None:
        self.patch, self.folder = patch, folder
        self.waited_s = 0.0
        for module in (voices, worker):
            patch.setattr(module, "time", self)

    def monotonic(self) -> float:
        self.waited_s += 3.0 * any(map(_runs, self.folder.glob("*.pid")))
        return self.waited_s

    def __call__(self, speaking: str = "", *, listing: str = "", alone: bool = False) -> None:
        Beeper.made += 1
        name = f"beeper_{Beeper.made}"
        source = BEEPING.format(speaking=speaking, listing=listing)
        (self.folder / f"{name}.py").write_text(source)
        self.patch.syspath_prepend(self.folder)
        self.patch.setattr(voices, "SPEAKERS", (name,) if alone else (OWN, name))


def _runs(pid: Path) -> bool:
    try:
        os.kill(int(pid.read_text() or 0), 0)
    except ProcessLookupError:
        return False
    return True


def beeps(clip: Clip) -> bool:
    """Whether a clip is the beeper's: all its power lies at one frequency."""
    power = np.abs(np.fft.rfft(clip.samples)) ** 2
    most = int(power.argmax())
    return bool(power[max(0, most - 20) : most + 20].sum() > 0.9 * power.sum())


def test_every_phrase_is_spoken_once_with_no_silence_around_it() -> None:
    spoken = speak(["bank thirty", "nose on the horizon", "bank thirty", " "])
    assert spoken.note is None
    assert list(spoken.clips) == ["bank thirty", "nose on the horizon"]
    for clip in spoken.clips.values():
        assert clip.samples.dtype == np.float32 and clip.samples.ndim == 1
        assert 0.3 < clip.length_s == len(clip.samples) / RATE < 3
        loud = np.flatnonzero(np.abs(clip.samples) > 0.01)
        assert loud[0] < 0.05 * RATE and len(clip.samples) - loud[-1] < 0.1 * RATE


TEXTS = ("stop", "bank thirty, speed sixty two, nose on the horizon", "ease", "right rudder")


def check_loudness(clips: dict[str, Clip]) -> None:
    # EBU R 128: -23 LUFS, measured by ITU-R BS.1770-4, here over 3 s of the phrase in both ears.
    # A phrase that would rise above its true peak stays softer: 0.8 dB
    # at most of 292 with espeak-ng, 2.4 dB of 200 with the coach's own voice.
    meter = pyloudnorm.Meter(RATE, filter_class="DeMan")
    assert list(clips) == list(TEXTS)
    for text, clip in clips.items():
        ears = np.stack([np.tile(clip.samples, -(-3 * RATE // len(clip.samples)))] * 2, axis=1)
        peak = np.abs(resample_poly(clip.samples, 4, 1)).max()
        assert peak < PHRASE_TRUE_PEAK + 0.005, text
        loudness = meter.integrated_loudness(ears)
        limited = peak > PHRASE_TRUE_PEAK - 0.005
        assert LOUDNESS_LUFS - (4.0 if limited else 0.05) < loudness < LOUDNESS_LUFS + 0.05, text


@pytest.mark.parametrize("voice", [None, "English (America)"])
def test_phrases_are_equally_loud_and_none_is_too_high(voice: str | None) -> None:
    check_loudness(speak(TEXTS, voice=voice).clips)


def test_the_true_peak_is_found_between_the_samples() -> None:
    # A sine at a quarter of the rate whose samples all lie at 0.7071 of its height.
    wave = np.sin(np.pi / 2 * np.arange(4800) + np.pi / 4) * np.hanning(4800)
    assert np.abs(wave).max() == pytest.approx(np.sqrt(0.5), abs=1e-3)
    assert true_peak(wave.astype(np.float32)) == pytest.approx(1.0, abs=1e-3)


def test_a_faster_voice_takes_less_time() -> None:
    text = "bank thirty, nose on the horizon"
    slow, fast = (speak([text], words_per_minute=rate).clips[text] for rate in (120, 240))
    assert fast.length_s < 0.75 * slow.length_s


def test_another_voice_sounds_different() -> None:
    british, american = (speak(["hard turn"], voice=f"English ({p})") for p in ("Great Britain", "America"))  # fmt: skip
    assert british.clips["hard turn"].length_s != american.clips["hard turn"].length_s


def test_a_voice_may_be_chosen_by_its_id_in_any_case() -> None:
    name, number = (speak(["turn"], voice=voice) for voice in ("english (america)", "gmw/en-US"))
    np.testing.assert_array_equal(name.clips["turn"].samples, number.clips["turn"].samples)


def test_an_unknown_voice_is_answered_with_the_nearest_one() -> None:
    with pytest.raises(Problem, match=r"no voice called Englsh.*did you mean English \(America\)"):
        speak(["bank"], voice="Englsh (America)")


def test_an_impossible_speed_is_refused() -> None:
    with pytest.raises(Problem, match="60 to 500 words a minute, not 5"):
        speak(["bank"], words_per_minute=5)


def test_the_list_names_each_voice_once_english_first_and_one_usual() -> None:
    found = voices.voices()
    english = [voice.english for voice in found]
    assert english == sorted(english, reverse=True) and any(english) and not all(english)
    assert not any("alphabet" in voice.name for voice in found if voice.english)
    assert len({voice.name for voice in found}) == len(found)
    assert [voice.name for voice in found if voice.usual] == [USUAL]
    assert all(voice.engine and voice.licence for voice in found)


def test_a_speaker_that_hangs_when_asked_for_its_voices_is_left_out_in_time(
    beeper: Beeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(voices, "LISTING_LIMIT_S", 5.0)
    beeper(listing=HANGS)
    names = {voice.name for voice in voices.voices()}
    assert 5.0 < beeper.waited_s < 15.0
    assert USUAL in names and "beeper" not in names
    # It may have the voice all the same, and is asked to speak with it.
    assert beeps(speak(["bank"], voice="beeper").clips["bank"])


def test_phrases_come_from_the_cache_without_a_voice_and_sound_the_same(beeper: Beeper) -> None:
    first = speak(["bank thirty"]).clips["bank thirty"]
    beeper("os.abort()", alone=True)
    again = speak(["bank thirty"])
    assert again.note is None
    np.testing.assert_array_equal(again.clips["bank thirty"].samples, first.samples)


@pytest.mark.parametrize("damage", ["cut short", "one byte changed", "one byte of zip", "emptied"])
def test_a_damaged_cache_file_is_made_again(own_folder: Path, damage: str) -> None:
    first = speak(["bank thirty"]).clips["bank thirty"]
    (file,) = (own_folder / "cache" / "phrases").iterdir()
    whole = file.read_bytes()
    middle, packing = len(whole) // 2, whole.rindex(b"PK\x01\x02") + 10
    spoilt = {
        "cut short": whole[:middle],
        "one byte changed": whole[:middle] + bytes([whole[middle] ^ 255]) + whole[middle + 1 :],
        "one byte of zip": whole[:packing] + b"\x63" + whole[packing + 1 :],
        "emptied": b"",
    }
    file.write_bytes(spoilt[damage])
    np.testing.assert_array_equal(speak(["bank thirty"]).clips["bank thirty"].samples, first.samples)  # fmt: skip
    assert len(file.read_bytes()) == len(whole)


def test_without_a_place_for_the_cache_phrases_are_spoken_all_the_same(own_folder: Path) -> None:
    own_folder.write_text("a file where the folder should be")
    assert "bank" in speak(["bank"]).clips


@pytest.mark.parametrize(
    ("wrong", "reason"),
    [
        ("hangs", "said nothing for 10 seconds"),
        ("dies", "ended before it was done"),
        ("complains", "said RuntimeError: I have a cold"),
        ("says nothing", "gave no sound"),
    ],
)
def test_a_phrase_that_a_voice_fails_on_is_spoken_by_the_usual_one_and_said_so(
    beeper: Beeper, monkeypatch: pytest.MonkeyPatch, wrong: str, reason: str
) -> None:
    monkeypatch.setattr(worker, "PATIENCE_S", 10.0)
    beeper(f"if text == 'pitch': {OUT_OF_ORDER[wrong]}")
    spoken = speak(["bank", "pitch", "power"], voice="beeper")
    assert beeper.waited_s < 20.0
    assert {text: beeps(clip) for text, clip in spoken.clips.items()} == {
        "bank": True, "pitch": False, "power": True,
    }  # fmt: skip
    assert spoken.note == f"1 of 3 phrases are spoken by the usual voice: beeper {reason}."


def test_where_the_usual_voice_fails_that_of_the_system_speaks(
    beeper: Beeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    beeper()
    monkeypatch.setattr(voices, "SPEAKERS", ("no.such.speaker", voices.SPEAKERS[1]))
    spoken = speak(["bank"])
    assert beeps(spoken.clips["bank"])
    assert spoken.note is not None
    assert spoken.note.startswith("1 of 1 phrases are spoken by the system's voice: the usual")


def test_the_voice_speaks_in_a_folder_whose_files_are_called_like_python_s_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "wave.py").write_text("raise SystemExit")
    monkeypatch.chdir(tmp_path)
    assert speak(["bank"]).note is None


def test_a_slow_voice_is_ended_in_time_and_what_it_said_is_kept(beeper: Beeper, tmp_path: Path) -> None:  # fmt: skip
    beeper(f"if number: {HANGS}", alone=True)
    spoken = speak(["bank", "pitch", "power"], voice="beeper", limit_s=10)
    assert beeper.waited_s < 40.0  # it is asked first, and then as the usual one
    assert "bank" in spoken.clips
    assert spoken.note is not None and "beeper took longer than 10 seconds." in spoken.note
    (pid,) = tmp_path.glob("*.pid")
    assert not _runs(pid)


@pytest.mark.parametrize("wrong", OUT_OF_ORDER)
def test_where_no_voice_speaks_the_coach_goes_on_and_says_so_in_a_sentence(
    beeper: Beeper, wrong: str
) -> None:
    beeper(OUT_OF_ORDER[wrong], alone=True)
    spoken = speak(["pitch", "power"], limit_s=10)
    assert not spoken.clips and spoken.note is not None
    assert spoken.note.startswith("2 of 2 phrases could not be spoken: the usual voice ")


def test_a_phrase_that_came_out_empty_is_spoken_once_more(beeper: Beeper) -> None:
    beeper("if number == 0 and len(texts) > 1: beep = beep[:0]", alone=True)
    spoken = speak(["bank", "pitch", "power"])
    assert spoken.note is None
    assert set(spoken.clips) == {"bank", "pitch", "power"}


def test_the_coachs_own_voice_is_the_usual_one_and_its_licence_is_told() -> None:
    (found,) = (voice for voice in voices.voices() if voice.usual)
    # Its wheel's metadata say Apache-2.0.
    assert (found.name, found.speaker, found.licence) == (USUAL, OWN, "Apache-2.0")
    assert metadata("hibari-tts")["License"] == found.licence


def test_the_same_text_sounds_the_same_whatever_was_said_before_it(own_folder: Path) -> None:
    alone = speak(["Bank thirty. More right rudder."]).clips
    shutil.rmtree(own_folder)
    after = speak(["Ninety.", *alone]).clips
    for text, clip in alone.items():
        np.testing.assert_array_equal(after[text].samples, clip.samples)


def test_between_two_sentences_is_a_short_pause() -> None:
    text = "Ninety. Nose level, bank thirty. Speed sixty two."
    clip = speak([text]).clips[text]
    blocks = np.abs(clip.samples[: len(clip.samples) // 480 * 480]).reshape(-1, 480).max(axis=1)
    silent = "".join("_" if one < 0.01 * blocks.max() else "#" for one in blocks)  # of 10 ms each
    pauses = [len(one) / 100 for one in re.findall("_+", silent) if len(one) > 15]
    assert len(pauses) == 2 and all(0.18 < one < 0.4 for one in pauses), silent


@pytest.mark.parametrize("rate", [100, 140, 180, 240])
def test_a_stand_in_takes_about_as_long_at_any_tempo(rate: int) -> None:
    texts = ("Ninety. Nose level, bank thirty.", "One thirty five. Lowest pitch, six below level.",
             "Close to the stall. Stay coordinated.", "More right rudder.")  # fmt: skip
    own, system = (
        sum(
            clip.length_s
            for clip in speak(texts, voice=voice, words_per_minute=rate).clips.values()
        )
        for voice in (None, "English (America)")
    )
    assert own == pytest.approx(system, rel=0.15)


def test_a_tempo_asked_for_is_never_slower_than_one_below_it() -> None:
    speeds = [hibari.speed(rate) for rate in range(60, 501)]
    assert speeds == sorted(speeds)
    assert (speeds[0], speeds[-1]) == (0.5, 2.0)  # the bounds that the engine knows


def test_the_engine_is_loaded_by_nobody_who_does_not_speak_with_it() -> None:
    listed = (
        "import sys; from coach.sound.speakers import hibari; import coach.sound.voices; "
        "print(len(hibari.voices()), 'hibari' in sys.modules, 'onnxruntime' in sys.modules)"
    )
    said = subprocess.run([sys.executable, "-c", listed], capture_output=True, text=True, check=True)  # fmt: skip
    assert said.stdout.split() == ["1", "False", "False"]


def test_the_coachs_own_voice_asks_no_network(tmp_path: Path) -> None:
    alone = (
        "import pathlib, socket, sys\n"
        "def refused(*_, **__): raise SystemExit('it asked the network')\n"
        "socket.socket.connect = socket.socket.connect_ex = socket.getaddrinfo = refused\n"
        "from coach.sound.speakers import hibari\n"
        "print(*hibari.speak(['bank thirty'], pathlib.Path(sys.argv[1]), '', 180))"
    )
    said = subprocess.run([sys.executable, "-c", alone, str(tmp_path)], capture_output=True, text=True)  # fmt: skip
    assert (said.stdout.split(), said.stderr) == (["0"], "")


def test_another_version_of_the_voice_does_not_mix_with_what_is_kept(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    kept = phrases.place("bank", "", 180)
    monkeypatch.setattr(phrases, "version", lambda: "9.9")
    assert phrases.place("bank", "", 180) != kept
