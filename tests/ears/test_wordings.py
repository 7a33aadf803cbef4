"""Promises about how the tests' students speak."""

from __future__ import annotations

from itertools import islice

import pytest

from tests.ears.attempts import as_pilot, attempts


@pytest.mark.parametrize("seed", (151, 152))
def test_what_a_student_says_as_pilots_do_means_the_numbers_that_are_meant(seed: int) -> None:
    for one in islice(attempts("answer", seed, as_pilot), 0, None, 3):
        meant = one.grammar.parse(one.words.replace(",", ""))
        assert meant is not None and meant.values == one.values, one.words
