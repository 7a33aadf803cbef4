"""What is said beside a soundtrack, and instead of a part of it."""

from __future__ import annotations

import numpy as np

from coach.callouts.cuesheet import Cue, Phrase
from coach.sound.bed import LEVELS
from coach.sound.clip import Clip
from coach.sound.soundtrack import Soundtrack, mix

from .crank import Cranked, take
from .sheets import sheet_of

YES = Clip(np.full(1000, 0.25, np.float32))
TOLD = Cue(0.1, 0.1, Phrase("Bank 30", "bank thirty"))
TONE = Cue(0.12, 0.12, tone="checkpoint")
BEGIN, END = 4800, 9600


def track(*cues: Cue) -> Soundtrack:
    told = np.random.default_rng(4).uniform(-0.4, 0.4, END - BEGIN).astype(np.float32)
    return mix(sheet_of(*cues), {"bank thirty": Clip(told)}, dict.fromkeys(LEVELS, 0.0))


def heard(cranked: Cranked, asked_at: int, *, instead: bool = True) -> np.ndarray:
    """The first frames, where something is said in the place of a phrase from ``asked_at`` on."""
    soundtrack = track(TOLD, TONE)
    player = cranked(soundtrack)
    got = take(player, asked_at)
    player.interject(YES, soundtrack.sound(TOLD) if instead else None)
    return np.array([*got, *take(player, 700), *take(player, 12_000)])


def plain(*cues: Cue) -> np.ndarray:
    return track(*cues).frames(0, 20_000)[:, 0]


def test_it_is_said_at_once_and_over_whatever_is_heard(cranked: Cranked) -> None:
    got = heard(cranked, 3000, instead=False)
    expected = plain(TOLD, TONE)[: len(got)]
    expected[3000:4000] += YES.samples
    np.testing.assert_allclose(got, expected, atol=1e-6)


def test_the_phrase_in_whose_place_it_is_said_is_not_heard_and_the_tone_under_it_is(
    cranked: Cranked,
) -> None:
    got = heard(cranked, BEGIN - 500)
    expected = plain(TONE)[: len(got)]
    expected[BEGIN - 500 : BEGIN + 500] += YES.samples
    np.testing.assert_allclose(got, expected, atol=1e-6)


def test_a_phrase_that_has_begun_is_heard_and_nothing_is_said_over_it(cranked: Cranked) -> None:
    got = heard(cranked, BEGIN + 1)
    np.testing.assert_allclose(got, plain(TOLD, TONE)[: len(got)], atol=1e-6)


def test_started_over_the_whole_soundtrack_is_heard_again(cranked: Cranked) -> None:
    soundtrack = track(TOLD)
    player = cranked(soundtrack)
    player.interject(YES, soundtrack.sound(TOLD))
    take(player, 2000)
    player.restart()
    np.testing.assert_allclose(take(player, END), plain(TOLD)[:END], atol=1e-6)


def test_a_phrase_that_no_voice_could_say_has_no_sound() -> None:
    assert mix(sheet_of(TOLD), {}).sound(TOLD) is None
