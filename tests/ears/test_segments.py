"""Promises of the segmenting and the resampling: no word is cut, and its time stays true."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.ears.resampling import Resampler
from coach.ears.segments import LONGEST_S, MARGIN_S, RATE, Segment, Segmenter
from coach.ears.voice import detector

from .speakers import noise, say


def fed(segmenter: Segmenter, sound: np.ndarray, step: int = 777) -> list[Segment]:
    """The utterances that are over."""
    return [
        segment
        for at in range(0, len(sound), step)
        for segment in segmenter.feed(sound[at : at + step].astype(np.float32))
        if segment.over
    ]


def room(seconds: float, *words: tuple[float, str], level: float = 0.002) -> np.ndarray:
    sound = level * noise("fan", round(seconds * RATE))
    for at, text in words:
        said = say(text)
        sound[round(at * RATE) : round(at * RATE) + len(said)] += said
    return sound


def test_each_utterance_is_cut_out_whole_however_the_sound_arrives() -> None:
    words = ((2.0, "bank thirty"), (5.0, "sixty five knots, pitch level"), (9.0, "wings level"))
    sound = room(12.0, *words)
    for step in (100, 777, 16_000):
        found = fed(Segmenter(), sound, step)
        assert len(found) == len(words)
        for segment, (at, text) in zip(found, words, strict=True):
            begin, end = segment.start / RATE, (segment.start + len(segment.samples)) / RATE
            assert at - MARGIN_S - 0.15 < begin < at - 0.05
            assert at + len(say(text)) / RATE < end < at + len(say(text)) / RATE + 0.6
            first = segment.start
            assert np.array_equal(
                segment.samples, sound[first : first + len(segment.samples)].astype(np.float32)
            )


def test_it_is_handed_over_at_every_pause_and_again_once_that_was_its_end() -> None:
    later_s = 2.0 + len(say("sixty five knots")) / RATE + 0.35
    sound = room(8.0, (2.0, "sixty five knots"), (later_s, "bank thirty"))
    found = [*Segmenter().feed(sound.astype(np.float32))]
    assert [segment.over for segment in found] == [False, False, True]
    first, last, over = found
    assert first.start == last.start == over.start
    assert len(first.samples) < len(last.samples)
    np.testing.assert_array_equal(last.samples, over.samples)


def test_out_of_digital_silence_an_utterance_is_cut_out_whole() -> None:
    text = "sixty five knots, bank fifteen"
    (segment,) = fed(Segmenter(), room(8.0, (3.0, text), level=0.0))
    assert segment.start < 3.0 * RATE
    assert segment.start + len(segment.samples) > 3.0 * RATE + len(say(text))


def test_what_is_left_out_is_taken_for_the_room_as_it_was() -> None:
    sound = room(20.0, (12.3, "bank thirty"))
    for begin in (2, 5, 8, 11):
        sound[begin * RATE : round((begin + 1.2) * RATE)] = np.nan
    (segment,) = fed(Segmenter(), sound, RATE // 20)
    assert segment.start < 12.3 * RATE and not np.isnan(segment.samples).any()
    assert segment.samples[: RATE // 10].std() == pytest.approx(0.002, rel=0.5)


def covered(*stretches: tuple[float, float], sound: np.ndarray) -> np.ndarray:
    """The sound without what came in while the coach spoke."""
    sound = sound.copy()
    for begin, end in stretches:
        sound[round(begin * RATE) : round(end * RATE)] = np.nan
    return sound


@given(st.lists(st.integers(1, 3 * RATE), min_size=1, max_size=40))
@settings(max_examples=8, deadline=None)
def test_in_whatever_blocks_sound_arrives_the_same_is_cut_out(blocks: list[int]) -> None:
    sound = covered((4.0, 5.3), sound=room(9.0, (2.0, "wings level"), (6.0, "bank thirty")))
    whole = [*Segmenter().feed(sound.astype(np.float32))]
    segmenter, parts = Segmenter(), np.split(sound.astype(np.float32), np.cumsum(blocks))
    found = [one for part in parts for one in segmenter.feed(part)]
    assert [one.over for one in whole] == [False, True, False, True]
    for one, other in zip(found, whole, strict=True):
        assert (one.start, one.over, one.whole) == (other.start, other.over, other.whole)
        assert one.stands_out_db == pytest.approx(other.stands_out_db)
        np.testing.assert_array_equal(one.samples, other.samples)


@pytest.mark.parametrize("kind", ["engine", "fan"])
def test_out_of_noise_ten_decibels_below_the_voice_it_is_cut_out_whole(kind: str) -> None:
    words = ((2.0, "pitch ten above level"), (6.0, "sixty five knots"), (10.0, "heading zero niner zero"))  # fmt: skip
    sound = room(13.0, *words, level=0.0) + 0.05 * 10 ** (-10 / 20) * noise(kind, 13 * RATE)
    found = fed(Segmenter(), sound)
    for segment, (at, text) in zip(found, words, strict=True):
        end = (segment.start + len(segment.samples)) / RATE - MARGIN_S
        assert segment.start / RATE + MARGIN_S == pytest.approx(at, abs=0.15)
        assert end == pytest.approx(at + len(say(text)) / RATE, abs=0.3)
        # Less than 10 dB without the rumble, or more: as much of the noise as of the voice is low.
        assert 5.0 < segment.stands_out_db < 25.0


def test_what_the_coach_says_is_never_taken_for_the_student() -> None:
    said = room(20.0, *((float(at), "what is your bank now") for at in (3, 8, 13)))
    heard = covered(*((at, at + 1.8) for at in (2.9, 7.9, 12.9)), sound=said)
    assert fed(Segmenter(), said) != []
    assert fed(Segmenter(), heard) == []


def test_what_began_while_the_coach_spoke_or_went_on_then_is_not_whole() -> None:
    length_s = len(say("sixty five knots, bank thirty")) / RATE
    sound = room(20.0, *((float(at), "sixty five knots, bank thirty") for at in (3, 8, 13)))
    over_the_beginning, over_the_end = (2.0, 3.6), (8.0 + length_s - 0.6, 8.0 + length_s + 1.0)
    found = fed(Segmenter(), covered(over_the_beginning, over_the_end, (10.5, 12.5), sound=sound))
    assert [segment.whole for segment in found] == [False, False, True]
    assert all(not np.isnan(segment.samples).any() for segment in found)


def test_an_engine_that_starts_is_one_utterance_at_most_and_then_the_room() -> None:
    engine = 0.02 * noise("engine", 30 * RATE)
    engine[: 8 * RATE] *= 10 ** (-10 / 20)
    sound = room(30.0, (24.0, "bank thirty"), level=0.0) + engine
    *earlier, last = fed(Segmenter(), sound)
    assert len(earlier) <= 1
    assert last.start / RATE + MARGIN_S == pytest.approx(24.0, abs=0.15)


def knock(pitch_hz: float, rings_s: float) -> np.ndarray:
    """Something that is knocked on: a burst, and what it sets ringing."""
    time = np.arange(RATE // 2) / RATE
    rings = np.sin(2 * np.pi * pitch_hz * time) + 0.6 * np.sin(2 * np.pi * 2.7 * pitch_hz * time)
    burst = np.random.default_rng(1).normal(size=len(time)) * np.exp(-time / 0.004)
    return 0.1 * (rings * np.exp(-time / rings_s) + burst)


def test_a_knock_is_no_answer_however_loud_and_the_shortest_word_is_one() -> None:
    words = ((6.0, "ten"), (9.0, "up"), (12.0, "eight"))
    sound = room(16.0, *words)
    for number, (pitch_hz, rings_s) in enumerate([(180.0, 0.06), (700.0, 0.04), (2500.0, 0.1)]):
        first = round((2.0 + 1.2 * number) * RATE)
        sound[first : first + RATE // 2] += knock(pitch_hz, rings_s)
    assert len(fed(Segmenter(), sound)) > len(words)
    found = fed(Segmenter(is_voice=detector()), sound)
    for segment, (at, _) in zip(found, words, strict=True):
        assert segment.start / RATE + MARGIN_S == pytest.approx(at, abs=0.15)


def test_steady_noise_is_no_utterance_however_loud() -> None:
    for kind in ("fan", "engine"):
        assert fed(Segmenter(), 0.1 * noise(kind, 10 * RATE)) == []


def test_noise_that_sets_in_ends_nothing_for_good() -> None:
    sound = np.concatenate([room(5.0), room(25.0, (20.0, "bank thirty"), level=0.01)])
    found = fed(Segmenter(), sound)
    assert all(len(segment.samples) <= (LONGEST_S + 1.0) * RATE for segment in found)
    assert any(
        segment.start < 25.0 * RATE < segment.start + len(segment.samples) for segment in found
    )


@pytest.mark.parametrize("mute_s", [0.5, 3.0, 12.0])
@pytest.mark.parametrize("first_s", [0.4, 1.3, 2.0])
def test_a_fan_switched_on_or_a_microphone_no_longer_mute_hides_no_word(
    mute_s: float, first_s: float
) -> None:
    text = "bank thirty"
    later_s = first_s + 4.0
    hums = room(later_s + 4.0, (first_s, text), (later_s, text))
    sound = np.concatenate([np.zeros(round(mute_s * RATE)), hums])
    found = fed(Segmenter(is_voice=detector()), sound)
    for segment, at in zip(found, (mute_s + first_s, mute_s + later_s), strict=True):
        assert segment.start < at * RATE
        assert segment.start + len(segment.samples) > at * RATE + len(say(text))
        # The first may come with the noise before and behind it; then the noise is the room.
        around_s = 3.0 if at < mute_s + later_s else 1.0
        assert len(segment.samples) < len(say(text)) + around_s * RATE


def test_push_to_talk_hears_only_what_is_said_after_a_push() -> None:
    segmenter = Segmenter(pushed=True)
    sound = room(12.0, (2.0, "bank thirty"), (6.0, "wings level"))
    assert fed(segmenter, sound[: 5 * RATE]) == []
    assert segmenter.push() is None
    (segment,) = fed(segmenter, sound[5 * RATE :])
    assert 4.5 * RATE < segment.start < 6.0 * RATE
    assert segment.start + len(segment.samples) > 6.0 * RATE + len(say("wings level"))


def test_a_second_push_ends_it_in_a_room_too_loud_to_tell() -> None:
    segmenter = Segmenter(pushed=True)
    sound = 0.05 * noise("babble", 4 * RATE)
    segmenter.push()
    assert fed(segmenter, sound[:RATE]) == []
    segment = segmenter.push()
    assert segment is not None and len(segment.samples) == pytest.approx(RATE, abs=RATE // 50)


@pytest.mark.parametrize("rate", [8_000, 16_000, 22_050, 44_100, 48_000, 96_000])
def test_any_rate_is_brought_to_the_recognisers_without_a_seam(rate: int) -> None:
    resampler = Resampler(rate)
    tone = np.sin(2 * np.pi * 440 * np.arange(2 * rate) / rate).astype(np.float32)
    cuts = np.cumsum(np.random.default_rng(0).integers(1, 2000, 2 * rate // 500))
    heard = np.concatenate([resampler.feed(part) for part in np.split(tone, cuts)])
    assert len(heard) == pytest.approx(2 * RATE, abs=2)
    # The same tone, later by the delay; 8 kHz is joined by straight lines.
    expected = np.sin(2 * np.pi * 440 * (np.arange(len(heard)) / RATE - resampler.delay_s))
    assert np.abs(heard - expected)[RATE // 10 :].max() < (0.02 if rate < RATE else 0.005)


def test_what_lies_above_the_recognisers_band_does_not_fold_into_it() -> None:
    tone = np.sin(2 * np.pi * 12_000 * np.arange(48_000) / 48_000).astype(np.float32)
    heard = Resampler(48_000).feed(tone)
    assert np.abs(heard[RATE // 10 :]).max() < 0.005
