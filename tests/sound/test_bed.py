"""Promises of the bed: what the ear learns of the airplane, and that it is never in the way."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import butter, resample_poly, sosfilt, welch

from coach.callouts.cuesheet import Course, Cue
from coach.problems import Problem
from coach.sound.bed import DUCK_DB, LEVELS, PEAKS
from coach.sound.clip import BED_TRUE_PEAK, RATE, Clip, Samples
from coach.sound.soundtrack import mix
from tests.sound.sheets import SILENT, course, said, sheet_of


def heard(flown: Course, part: str | None = None, *cues: Cue) -> Samples:
    """Two seconds from the middle of a course, of one part alone or of everything."""
    levels = LEVELS if part is None else {**SILENT, part: 1.0}
    return mix(sheet_of(*cues, flown=flown), {}, levels).frames(5 * RATE, 2 * RATE)


def loudness(samples: Samples) -> float:
    return float(np.sqrt((samples.astype(np.float64) ** 2).mean()))


def centre_hz(samples: Samples) -> float:
    hz, power = welch(samples[:, 0], RATE, nperseg=8192)
    return float((hz * power).sum() / power.sum())


def strongest_hz(samples: Samples) -> float:
    power = np.abs(np.fft.rfft(samples[:, 0] * np.hanning(len(samples)), 8 * len(samples)))
    return float(power.argmax() * RATE / (8 * len(samples)))


def true_peak(samples: Samples) -> float:
    """The peak between the samples too: ITU-R BS.1770-4, annex 2, at four times the rate."""
    return float(np.abs(resample_poly(samples.astype(np.float64), 4, 1, axis=0)).max())


def test_twice_as_fast_sounds_four_times_as_strong_and_twice_as_high() -> None:
    slow, fast = (heard(course(speed_kt=kt), "airflow") for kt in (55.0, 110.0))
    assert loudness(fast) / loudness(slow) == pytest.approx(4.0, rel=0.1)
    assert centre_hz(fast) / centre_hz(slow) == pytest.approx(2.0, rel=0.1)


def test_the_airflow_is_all_around_not_between_the_ears() -> None:
    left, right = heard(course(), "airflow").T
    assert abs(np.corrcoef(left, right)[0, 1]) < 0.1


@pytest.mark.parametrize(
    ("power", "speed_kt", "firing_hz"),
    # Two firings a revolution: 2,453 rpm in the cruise, 900 rpm at idle (common practice, no
    # source).
    [(0.75, 120.0, 81.8), (0.0, 70.0, 30.0)],
)
def test_the_engine_fires_twice_a_revolution(
    power: float, speed_kt: float, firing_hz: float
) -> None:
    found = strongest_hz(heard(course(power=power, speed_kt=speed_kt), "engine"))
    assert found == pytest.approx(firing_hz, abs=0.1)


def test_the_engine_is_louder_and_higher_with_power_and_higher_with_speed() -> None:
    slow, strong, fast = (
        heard(course(power=power, speed_kt=kt), "engine")
        for power, kt in ((0.5, 70.0), (1.0, 70.0), (1.0, 110.0))
    )
    assert loudness(strong) > 1.3 * loudness(slow)
    assert strongest_hz(slow) < strongest_hz(strong) < strongest_hz(fast)


def test_right_rudder_is_heard_on_the_right_and_more_of_it_is_louder() -> None:
    left, right = heard(course(rudder=0.5), "balance").T
    assert loudness(right) > 2.0 * loudness(left)
    other = heard(course(rudder=-0.5), "balance")
    np.testing.assert_allclose(other[:, ::-1], np.array([left, right]).T, atol=1e-7)
    assert loudness(heard(course(rudder=0.9), "balance")) > 1.5 * loudness(other)


def test_balanced_flight_has_no_tone() -> None:
    assert not heard(course(rudder=(-0.1, 0.1)), "balance").any()


def test_the_flutter_begins_10_kt_above_the_stall_and_grows_towards_it() -> None:
    assert not heard(course(margin_kt=10.0), "flutter").any()
    some, more, stalled = (heard(course(margin_kt=kt), "flutter") for kt in (6.0, 2.0, -1.0))
    assert 0.0 < loudness(some) < loudness(more) < loudness(stalled)


@pytest.mark.parametrize("part", LEVELS)
def test_every_part_can_be_turned_down_and_off(part: str) -> None:
    rough = sheet_of(Cue(5.0, 0.015, tone="tick"), flown=course(rudder=0.5, margin_kt=3.0))
    full, half, off = (
        mix(rough, {}, {**SILENT, part: level}).frames(4 * RATE, 2 * RATE)
        for level in (1.0, 0.5, 0.0)
    )
    assert full.any() and not off.any()
    np.testing.assert_allclose(half, 0.5 * full, atol=1e-8)


def test_an_unknown_part_and_a_level_that_is_none_are_refused() -> None:
    with pytest.raises(Problem, match="no sound called airflo; did you mean airflow"):
        mix(sheet_of(), {}, {"airflo": 1.0})
    with pytest.raises(Problem, match=r"level of ticks is 1\.5, expected 0 \(off\) to 1"):
        mix(sheet_of(), {}, {"ticks": 1.5})


def test_it_gives_way_before_the_first_word_and_comes_back_slowly() -> None:
    levels = {**SILENT, "balance": 1.0}
    silent = {"x": Clip(np.zeros(RATE, dtype=np.float32))}
    spoken, alone = (
        mix(sheet_of(*cues, flown=course(rudder=0.5)), silent, levels).frames(0, 12 * RATE)
        for cues in ((said(5.0),), ())
    )

    def softer_db(time_s: float) -> float:
        part = slice(round((time_s - 0.01) * RATE), round((time_s + 0.01) * RATE))
        return 20.0 * float(np.log10(loudness(alone[part]) / loudness(spoken[part])))

    for time_s in (5.02, 5.5, 5.98):
        assert softer_db(time_s) == pytest.approx(DUCK_DB, abs=0.05)
    assert 2.0 < softer_db(6.3) < softer_db(6.2) < DUCK_DB
    assert softer_db(4.7) == softer_db(6.9) == 0.0


def test_a_phrase_that_could_not_be_spoken_does_not_silence_the_airplane() -> None:
    np.testing.assert_array_equal(heard(course(), None, said(5.0)), heard(course()))


def test_it_comes_with_the_count_in_and_goes_after_the_last_moment() -> None:
    track = mix(sheet_of(flown=course((6.0, 9.0), rudder=0.5)), {}).frames(0, 12 * RATE)
    assert not track[: 3 * RATE].any() and not track[round(10.5 * RATE) :].any()
    counting, flying, after = (
        loudness(track[round(a * RATE) : round((a + 0.5) * RATE)]) for a in (4.0, 7.0, 9.8)
    )
    assert 0.0 < counting < flying and 0.0 < after < flying


@settings(max_examples=10, deadline=None)
@given(
    leaps=st.lists(
        st.tuples(*(st.floats(low, high) for low, high in ((0, 1), (-1, 1), (40, 150)))),
        min_size=2, max_size=3,
    )
)  # fmt: skip
def test_nothing_the_airplane_does_makes_a_click(leaps: list[tuple[float, float, float]]) -> None:
    # A lever thrown from stop to stop in a hundredth of a second, every second. All that engine and
    # balance sound of lies below 1.2 kHz; a click or a gain in steps would be heard above 4 kHz.
    time = np.ravel([[3.0 + k, 3.99 + k] for k in range(len(leaps))])
    power, rudder, speed = (tuple(np.repeat(column, 2)) for column in zip(*leaps, strict=True))
    flown = course(tuple(time), power=power, rudder=rudder, speed_kt=speed)
    levels = {**LEVELS, "airflow": 0.0, "flutter": 0.0}
    right = mix(sheet_of(flown=flown, length_s=8.0), {}, levels).frames(0, 8 * RATE)[:, 1]
    above = sosfilt(butter(8, 4000.0, "high", fs=RATE, output="sos"), right)
    assert np.abs(above).max() < 2e-6


def test_the_whole_bed_stays_18_lu_under_the_speech_in_a_cruise_and_10_at_its_roughest() -> None:
    pyloudnorm = pytest.importorskip("pyloudnorm")
    # Speech is at -23 LUFS, the programme level of EBU R 128.
    cruise, rough = (
        pyloudnorm.Meter(RATE).integrated_loudness(heard(flown))
        for flown in (course(), course(speed_kt=140.0, power=1.0, rudder=1.0, margin_kt=0.0))
    )
    assert cruise == pytest.approx(-41.0, abs=1.5)
    assert rough < -33.0


def test_its_true_peak_stays_within_its_share_of_the_room() -> None:
    worst = course(speed_kt=200.0, power=1.0, rudder=1.0, margin_kt=0.0)
    ticks = [Cue(4.0 + 0.05 * k, 0.015, tone="tick") for k in range(60)]
    everything = mix(sheet_of(*ticks, flown=worst), {}).frames(3 * RATE, 6 * RATE)
    assert 0.5 * BED_TRUE_PEAK < true_peak(everything) <= sum(PEAKS.values()) <= BED_TRUE_PEAK
