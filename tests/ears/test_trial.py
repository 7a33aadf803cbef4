"""Promises of the trial: figures and a plain verdict."""

from __future__ import annotations

import pytest

from coach.ears.levels import Level
from coach.ears.trial import SAMPLES, Sample, trial


def levels(*powers: float, peak: float = 0.3) -> list[Level]:
    return [Level(float(at), power, peak) for at, power in enumerate(powers)]


QUIET = levels(*[1e-6] * 100)
SPOKEN = levels(*[1e-6] * 80, *[1e-3] * 20)


def test_the_figures_are_those_of_the_noise_and_of_the_louder_fifth() -> None:
    found = trial(QUIET, SPOKEN, 6, 6)
    assert (found.floor_db, found.speech_db) == pytest.approx((-60.0, -30.0), abs=0.01)
    assert found.stands_out_db == pytest.approx(30.0, abs=0.01)
    assert found.verdict == "This microphone will do in this room: 6 of 6 understood."


@pytest.mark.parametrize(
    ("quiet", "spoken", "advice"),
    [
        (QUIET, levels(*[1e-1] * 100, peak=1.0), "too loud for it"),
        (levels(*[1e-8] * 9), levels(*[1e-6] * 100), "you are faint"),
        (levels(*[1e-4] * 9), SPOKEN, "it is noisy here"),
        (QUIET, SPOKEN, "speak plainly"),
    ],
)
def test_where_it_will_not_do_the_likeliest_reason_is_told(
    quiet: list[Level], spoken: list[Level], advice: str
) -> None:
    found = trial(quiet, spoken, 2, len(SAMPLES))
    assert not found.will_do and advice in found.verdict


def test_seven_of_eight_will_do() -> None:
    assert trial(QUIET, SPOKEN, 7, 8).will_do
    assert not trial(QUIET, SPOKEN, 6, 8).will_do


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda one: one.words)
def test_what_is_to_be_said_means_what_is_to_be_understood(sample: Sample) -> None:
    assert sample.is_understood(sample.words)
