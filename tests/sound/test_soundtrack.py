"""Promises of the mix, the tones and the files."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from coach.callouts.cuesheet import Cue, CueSheet, Phrase
from coach.problems import Problem
from coach.shelf import shipped
from coach.sound.clip import RATE, Clip, level_phrase, trim
from coach.sound.files import write
from coach.sound.soundtrack import PEAK, mix
from coach.sound.tones import make, tone

TONES = ("checkpoint", "start", "end")
SECONDS = st.floats(0, 60, allow_nan=False)


def sheet_of(*cues: Cue, length_s: float = 1.0) -> CueSheet:
    return CueSheet(cues, (), 0.0, length_s)


@given(start_s=SECONDS)
def test_a_cue_lies_at_the_sample_nearest_its_start(start_s: float) -> None:
    track = mix(sheet_of(Cue(start_s, 0.12, tone="checkpoint")), {})
    wanted = tone("checkpoint").samples
    at = round(start_s * RATE)
    np.testing.assert_array_equal(track.samples[at : at + len(wanted)], wanted)
    assert not track.samples[:at].any() and not track.samples[at + len(wanted) :].any()


@given(noise=st.integers(0, 2**32 - 1), gain=st.floats(1e-3, 1e3), offset_s=st.floats(0, 0.9))
def test_a_phrase_and_a_tone_over_it_never_clip_and_neither_is_turned_down(
    noise: int, gain: float, offset_s: float
) -> None:
    sound = np.random.default_rng(noise).standard_cauchy(RATE).astype(np.float32) * gain
    clip = Clip(level_phrase(sound))
    cues = Cue(0, 1, phrase=Phrase("X", "x")), Cue(offset_s, 0.12, tone="checkpoint")
    track = mix(sheet_of(*cues), {"x": clip})
    assert np.abs(track.samples).max() <= PEAK
    expected = clip.samples.copy()
    at, over = round(offset_s * RATE), tone("checkpoint").samples
    expected[at : at + len(over)] += over[: len(expected) - at]
    np.testing.assert_array_equal(track.samples[: len(expected)], expected)


@given(starts=st.lists(st.floats(0, 0.2), min_size=1, max_size=30), name=st.sampled_from(TONES))
def test_no_pile_of_cues_ever_clips(starts: list[float], name: str) -> None:
    track = mix(sheet_of(*(Cue(s, 0.1, tone=name) for s in starts)), {})
    assert np.abs(track.samples).max() <= PEAK


def test_a_phrase_that_could_not_be_spoken_stays_silent() -> None:
    track = mix(sheet_of(Cue(0, 1, phrase=Phrase("X", "x"))), {})
    assert track.length_s == 1.0 and not track.samples.any()


def test_a_sound_that_goes_on_past_the_end_is_heard_out() -> None:
    track = mix(sheet_of(Cue(0.99, 0.1, tone="end")), {})
    assert track.length_s == pytest.approx(0.99 + tone("end").length_s, abs=1 / RATE)


def test_real_phrases_and_tones_mix_without_clipping(
    sheet: CueSheet, clips: Mapping[str, Clip]
) -> None:
    track = mix(sheet, clips)
    assert track.rate == RATE and track.samples.dtype == np.float32
    assert 0.2 < np.abs(track.samples).max() <= PEAK


def test_the_shipped_tones_are_the_ones_the_project_makes(tmp_path: Path) -> None:
    make(tmp_path)
    assert {path.stem for path in shipped("audio_cues").glob("*.wav")} == set(TONES)
    for name in TONES:
        made, _ = soundfile.read(tmp_path / f"{name}.wav", dtype="int16")
        kept, rate = soundfile.read(shipped("audio_cues") / f"{name}.wav", dtype="int16")
        assert rate == RATE and kept.ndim == 1
        # Another machine's sine may differ in its last bit.
        np.testing.assert_allclose(made, kept, atol=1)
        assert f"`{name}.wav`" in (shipped("audio_cues") / "README.md").read_text("utf-8")


def test_the_students_own_tone_comes_first_whatever_its_rate_and_loudness(own_folder: Path) -> None:
    own = own_folder / "audio_cues"
    own.mkdir(parents=True)
    wave = np.sin(np.arange(22_050) / 10)
    soundfile.write(own / "start.wav", np.column_stack([wave, wave]), 44_100)
    clip = tone("start")
    assert clip.length_s == pytest.approx(0.5)
    assert np.abs(clip.samples).max() == pytest.approx(np.abs(tone("end").samples).max(), rel=0.01)


def test_an_unknown_tone_is_answered_with_the_nearest_one() -> None:
    with pytest.raises(Problem, match="no tone called chekpoint; did you mean checkpoint"):
        tone("chekpoint")


def test_a_tone_that_is_no_sound_is_named(own_folder: Path) -> None:
    (own_folder / "audio_cues").mkdir(parents=True)
    (own_folder / "audio_cues" / "start.wav").write_text("la la la")
    with pytest.raises(Problem, match=r"start\.wav cannot be read as a WAV file"):
        tone("start")


def test_trimming_silence_leaves_nothing() -> None:
    assert len(trim(np.zeros(100, dtype=np.float32))) == 0


@pytest.mark.parametrize("ending", ["wav", "flac", "WAV"])
def test_a_written_soundtrack_reads_back_the_same(
    tmp_path: Path, sheet: CueSheet, clips: Mapping[str, Clip], ending: str
) -> None:
    track = mix(sheet, clips)
    path = tmp_path / f"run.{ending}"
    write(track, path, title="Four turns")
    with soundfile.SoundFile(path) as file:
        assert (file.samplerate, file.channels, file.title) == (RATE, 1, "Four turns")
        assert file.format == ending.upper()
        np.testing.assert_allclose(file.read(), track.samples, atol=1 / 32_000)
    assert [p.name for p in tmp_path.iterdir() if p.is_file()] == [path.name]


def test_another_ending_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(Problem, match=r"run\.ogg: its name must end in \.wav or \.flac"):
        write(mix(sheet_of(), {}), tmp_path / "run.ogg")
    assert not list(tmp_path.glob("run*"))


def test_a_place_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    with pytest.raises(Problem, match=r"nowhere.*No such file or directory"):
        write(mix(sheet_of(), {}), tmp_path / "nowhere" / "run.wav")


@pytest.mark.parametrize("ending", ["wav", "flac"])
def test_a_file_already_there_survives_a_disk_that_fills_up(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], ending: str
) -> None:
    resource = pytest.importorskip("resource")
    path = tmp_path / f"run.{ending}"
    path.write_text("an earlier one")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, before[1]))
    try:
        with pytest.raises(Problem, match="cannot be written: File too large"):
            write(mix(sheet_of(Cue(0, 1, tone="end")), {}), path)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert capfd.readouterr().err == ""
    assert path.read_text() == "an earlier one"
    assert [p.name for p in tmp_path.iterdir()] == [path.name]
