"""Promises of the soundtrack and of the tones."""

from __future__ import annotations

import os
import pickle
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.callouts.cuesheet import Cue
from coach.drawing.palette import TICK_MARK, TONE_MARK
from coach.drawing.spectrogram import draw
from coach.problems import Problem
from coach.shelf import shipped
from coach.sound.clip import (
    BED_TRUE_PEAK,
    PHRASE_TRUE_PEAK,
    RATE,
    TONE_TRUE_PEAK,
    Clip,
    Samples,
)
from coach.sound.soundtrack import PEAK, Soundtrack, mix
from coach.sound.tones import make, tone
from coach.sound.voices import speak
from tests.sound.sheets import SILENT, course, said, sheet_of
from tests.sound.test_bed import true_peak

NAMES = ("checkpoint", "start", "end", "off", "tick")
LOUD = Clip(np.tile(np.array([1, -1], dtype=np.float32) * PHRASE_TRUE_PEAK, RATE // 2))
"""A second as loud as a phrase may be."""


def whole(track: Soundtrack) -> Samples:
    return track.frames(0, track.length)


@pytest.fixture(scope="module")
def busy() -> Soundtrack:
    """Twelve seconds of every part of the bed, a phrase, tones and ticks."""
    flown = course(
        speed_kt=(60.0, 120.0), power=(0.0, 1.0), rudder=(-1.0, 1.0), margin_kt=(0.0, 40.0)
    )
    cues = [Cue(t, 0.12, tone="checkpoint") for t in (0.5, 2.7, 5.12345, 8.0, 11.95)]
    cues += [Cue(t, 0.015, tone="tick") for t in (3.5, 4.0, 4.5)]
    return mix(sheet_of(*cues, said(5.0), flown=flown), {"x": LOUD})


@given(start_s=st.floats(0, 60, allow_nan=False))
def test_a_cue_lies_at_the_frame_nearest_its_start_for_both_ears(start_s: float) -> None:
    track = mix(sheet_of(Cue(start_s, 0.12, tone="checkpoint")), {}, SILENT)
    wanted = tone("checkpoint").samples
    at = round(start_s * RATE)
    around = track.frames(at - 100, len(wanted) + 200)
    assert around.dtype == np.float32 and not around[:100].any() and not around[-100:].any()
    for ear in around[100:-100].T:
        np.testing.assert_array_equal(ear, wanted)


@settings(deadline=None, max_examples=50)
@given(
    start=st.integers(-RATE, 12 * RATE),
    cuts=st.lists(st.one_of(st.integers(0, 5), st.integers(0, 5000), st.integers(0, RATE)),
                  max_size=8),
)  # fmt: skip
def test_however_it_is_cut_up_it_is_the_same_to_the_last_bit(
    busy: Soundtrack, start: int, cuts: list[int]
) -> None:
    at = start + np.concatenate([[0], np.cumsum(cuts, dtype=int)])
    parts = [busy.frames(int(one), count) for one, count in zip(at, cuts, strict=False)]
    np.testing.assert_array_equal(
        np.concatenate([np.zeros((0, 2), dtype=np.float32), *parts]),
        busy.frames(start, sum(cuts)),
    )


def test_another_process_renders_the_same(busy: Soundtrack) -> None:
    sent = pickle.dumps(busy)
    assert len(sent) < 1_000_000
    np.testing.assert_array_equal(whole(pickle.loads(sent)), whole(busy))


def test_before_it_and_after_it_there_is_silence(busy: Soundtrack) -> None:
    assert not busy.frames(-2 * RATE, 2 * RATE).any()
    assert not busy.frames(busy.length, RATE).any()
    assert not busy.frames(-3 * RATE, RATE).any()
    around = busy.frames(-RATE, busy.length + 2 * RATE)
    np.testing.assert_array_equal(around[RATE:-RATE], whole(busy))


@given(starts=st.lists(st.floats(0, 0.2), min_size=1, max_size=30), name=st.sampled_from(NAMES[:3]))
def test_no_pile_of_cues_ever_clips(starts: list[float], name: str) -> None:
    cues = [Cue(s, 0.1, tone=name) for s in starts]
    track = mix(sheet_of(said(0.0), said(0.3), *cues), {"x": LOUD}, SILENT)
    most = np.abs(track.frames(0, 2 * RATE)).max()
    assert most <= PHRASE_TRUE_PEAK + TONE_TRUE_PEAK + 1e-6 < PEAK - BED_TRUE_PEAK


@given(offset_s=st.floats(0, 0.8))
def test_a_tone_over_a_phrase_turns_neither_down(offset_s: float) -> None:
    track = mix(sheet_of(said(0.0), Cue(offset_s, 0.12, tone="checkpoint")), {"x": LOUD}, SILENT)
    expected = LOUD.samples.copy()
    at, over = round(offset_s * RATE), tone("checkpoint").samples
    expected[at : at + len(over)] += over
    np.testing.assert_array_equal(track.frames(0, RATE)[:, 1], expected)


def test_real_phrases_over_the_airplane_are_at_minus_23_lufs_and_below_minus_1_db() -> None:
    pyloudnorm = pytest.importorskip("pyloudnorm")
    phrases = ("bank thirty", "nose on the horizon", "more right rudder", "speed sixty two")
    spoken = speak(phrases).clips
    if not spoken:
        (pytest.fail if os.environ.get("CI") else pytest.skip)("this machine has no voice")
    cues = [said(1.0 + 2.0 * k, spoken=text) for k, text in enumerate(phrases)]
    cues += [Cue(t, 0.12, tone="checkpoint") for t in (1.2, 3.3, 5.0, 7.6)]
    heard = whole(mix(sheet_of(*cues, flown=course(rudder=0.8, margin_kt=3.0)), spoken))
    # EBU R 128: -23 LUFS within 1 LU; the true peak by ITU-R BS.1770-4, annex 2.
    assert pyloudnorm.Meter(RATE).integrated_loudness(heard) == pytest.approx(-23.0, abs=1.0)
    assert true_peak(heard) < PEAK


def test_a_phrase_that_could_not_be_spoken_stays_silent() -> None:
    track = mix(sheet_of(said(0.0), length_s=1.0), {}, SILENT)
    assert track.length_s == 1.0 and not whole(track).any()


def test_a_sound_that_goes_on_past_the_end_is_heard_out() -> None:
    track = mix(sheet_of(Cue(0.99, 0.1, tone="end"), length_s=1.0), {})
    assert track.length_s == pytest.approx(0.99 + tone("end").length_s, abs=1 / RATE)


def test_forty_minutes_are_rendered_within_20_megabytes() -> None:
    flown = course(
        tuple(np.linspace(3.0, 2390.0, 48_000)), speed_kt=100.0, rudder=0.5, margin_kt=5.0
    )
    cues = [said(4.0 * k) for k in range(590)]
    whole(mix(sheet_of(said(3.0)), {"x": LOUD}))  # what is made once for all soundtracks
    tracemalloc.start()
    try:
        track = mix(sheet_of(*cues, flown=flown, length_s=2400.0), {"x": LOUD})
        for second in range(0, 2400, 40):
            assert track.frames(second * RATE, RATE).any() or second == 0
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert most < 20e6  # the samples alone are 920 MB


def test_the_shipped_tones_are_the_ones_the_project_makes(tmp_path: Path) -> None:
    make(tmp_path)
    assert {path.stem for path in shipped("audio_cues").glob("*.wav")} == set(NAMES)
    for name in NAMES:
        made, _ = soundfile.read(tmp_path / f"{name}.wav", dtype="int16")
        kept, rate = soundfile.read(shipped("audio_cues") / f"{name}.wav", dtype="int16")
        assert rate == RATE and kept.ndim == 1
        # Another machine's sine may differ in its last bit.
        np.testing.assert_allclose(made, kept, atol=1)
        assert f"`{name}.wav`" in (shipped("audio_cues") / "README.md").read_text("utf-8")


def test_the_students_own_tone_comes_first_whatever_its_rate_and_loudness(home: Path) -> None:
    own = home / "audio_cues"
    own.mkdir(parents=True)
    wave = np.sin(np.arange(22_050) / 10)
    soundfile.write(own / "start.wav", np.column_stack([wave, wave]), 44_100)
    clip = tone("start")
    assert clip.length_s == pytest.approx(0.5)
    assert np.abs(clip.samples).max() == pytest.approx(np.abs(tone("end").samples).max(), rel=0.02)


def test_an_unknown_tone_is_answered_with_the_nearest_one() -> None:
    with pytest.raises(Problem, match="no tone called chekpoint; did you mean checkpoint"):
        tone("chekpoint")


def test_a_tone_that_is_no_sound_is_named(home: Path) -> None:
    (home / "audio_cues").mkdir(parents=True)
    (home / "audio_cues" / "start.wav").write_text("la la la")
    with pytest.raises(Problem, match=r"start\.wav cannot be read as a WAV file"):
        tone("start")


def test_the_picture_has_every_caption_and_a_mark_for_every_tone(tmp_path: Path) -> None:
    cues = [said(5.0, spoken="bank thirty"), said(7.0, spoken="speed sixty")]
    for name in ("start", "checkpoint", "tick"):
        sheet = sheet_of(*cues, Cue(8.0, 0.1, tone=name))
        draw(mix(sheet, {}), sheet, tmp_path / f"{name}.svg")
    drawn = {path.stem: path.read_text("utf-8") for path in tmp_path.glob("*.svg")}
    assert all("Bank thirty" in one and "Speed sixty" in one for one in drawn.values())
    # The legend has one line of each colour; the mark is a second one.
    assert drawn["start"].count(TONE_MARK) == drawn["checkpoint"].count(TONE_MARK) == 2
    assert drawn["tick"].count(TICK_MARK) == 2 and drawn["tick"].count(TONE_MARK) == 1
    with pytest.raises(Problem, match=r"must end in \.png or \.svg"):
        draw(mix(sheet, {}), sheet, tmp_path / "picture.jpg")
