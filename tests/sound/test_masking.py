"""Promises of a checkpoint: its tone and its name begin together, and both are heard."""

from __future__ import annotations

import os
from functools import cache

import numpy as np
import pytest

from coach.flight.day import Day
from coach.rehearsal.ready import Rehearsal, fly, prepare
from coach.sound.clip import RATE
from tests.sound.masking import above_db, intelligibility, marked, part, spoken

TONE_S, NAME_S, TICK_S = 0.03, 0.3, 0.015

CLEARLY_DB = 13.0
"""A signal is clearly heard where it is so much above the masked threshold in a third of an octave
(ISO 7731:2003, from memory)."""

HEARD_DB = 4.0
"""A tick is heard: a sound of 15 ms in a third of an octave at 3,100 Hz has ten times the energy
that lies in one hertz of noise of its level, about the least that an ear finds (Moore, An
Introduction to the Psychology of Hearing, from memory), so 0 dB is the least. The 4 dB are common
practice, no source."""

GOOD = 0.75
"""Speech intelligibility index of good communication (ANSI S3.5-1997, from memory)."""

MANEUVERS = ("lazy-eight", "traffic-pattern")


@cache
def rehearsed(maneuver: str) -> Rehearsal:
    day = Day()
    ready = prepare(fly(maneuver, "meadow-four", day), day, support="everything")
    if not spoken(ready.soundtrack, ready.sheet):
        (pytest.fail if os.environ.get("CI") else pytest.skip)("this machine has no voice")
    return ready


@pytest.mark.parametrize("maneuver", MANEUVERS)
def test_the_tone_stands_out_of_the_name_and_the_airplane(maneuver: str) -> None:
    track, sheet = rehearsed(maneuver).soundtrack, rehearsed(maneuver).sheet
    speech = spoken(track, sheet)
    count = round(TONE_S * RATE)
    found = []
    for cue in sheet.cues:
        if cue.tone == "checkpoint":
            start = round(cue.start_s * RATE)
            tone = part([marked(track, cue, speech)], start, count)
            masker = part(speech, start, count) + track.bed.frames(start, count).mean(axis=1)
            found.append(above_db(tone, masker))
    assert len(found) >= 4 and min(found) >= CLEARLY_DB


@pytest.mark.parametrize("maneuver", MANEUVERS)
def test_the_name_is_understood_under_its_tone_and_the_airplane(maneuver: str) -> None:
    track, sheet = rehearsed(maneuver).soundtrack, rehearsed(maneuver).sheet
    speech = spoken(track, sheet)
    count = round(NAME_S * RATE)
    found = []
    for cue in sheet.cues:
        if cue.tone == "checkpoint":
            start = round(cue.start_s * RATE)
            name = part(speech, start, count)
            if name.any():
                tone = part([marked(track, cue, speech)], start, count)
                masker = tone + track.bed.frames(start, count).mean(axis=1)
                found.append(intelligibility(name, masker))
    assert len(found) >= 4 and min(found) >= GOOD


@pytest.mark.parametrize("maneuver", MANEUVERS)
def test_every_tick_is_heard_over_what_is_said(maneuver: str) -> None:
    track, sheet = rehearsed(maneuver).soundtrack, rehearsed(maneuver).sheet
    speech = spoken(track, sheet)
    count = round(TICK_S * RATE)
    found = []
    for cue in sheet.cues:
        if cue.tone == "tick":
            start = round(cue.start_s * RATE)
            tick = part([marked(track, cue, speech)], start, count)
            masker = part(speech, start, count) + track.bed.frames(start, count).mean(axis=1)
            found.append(above_db(tick, masker))
    assert len(found) >= 6 and min(found) >= HEARD_DB


def test_a_masker_in_another_band_hides_nothing_below_it_and_little_far_above() -> None:
    time = np.arange(RATE // 10) / RATE
    low, high = (np.sin(2 * np.pi * hz * time) for hz in (500.0, 3175.0))
    assert above_db(low, high) > 40.0
    # Eight bands of 2.5 dB each.
    assert above_db(high, low) == pytest.approx(20.0, abs=1.0)
    assert intelligibility(low + high, 0.0 * low) > intelligibility(low + high, low + high)
