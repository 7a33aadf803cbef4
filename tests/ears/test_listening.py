"""Promises of the recogniser, with synthetic voices and the real thing behind them."""

from __future__ import annotations

import pytest

from .students import FOUND, lazy_eight, student

listening = pytest.importorskip("tests.ears.listening")


def test_of_a_whole_asking_rehearsal_exactly_the_four_mistakes_are_reported() -> None:
    rehearsed = lazy_eight()
    heard = listening.listen(student(rehearsed, "en-us", 175), rehearsed.expected())
    for one in heard:
        print(round(one.start_s, 2), one.words, round(one.sure, 2))
    assert rehearsed.mistakes(heard) == FOUND
