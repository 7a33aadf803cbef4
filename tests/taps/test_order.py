"""Promises of the orders that keys give."""

from __future__ import annotations

import pytest

from coach.taps.order import KEYS, ORDERS, by_key


@pytest.mark.parametrize(
    ("key", "playing", "paused"),
    [
        ("p", "pause", "go on"),
        ("ctrl-z", "pause", None),
        ("r", "start over", "start over"),
        ("q", "stop", "stop"),
        ("ctrl-c", "stop", "stop"),
        ("space", None, None),
        ("v", None, None),
    ],
)
def test_a_key_gives_the_order_that_fits_the_run(
    key: str, playing: str | None, paused: str | None
) -> None:
    assert by_key(key, paused=False) == playing
    assert by_key(key, paused=True) == paused


def test_every_order_can_be_given_by_a_key() -> None:
    given = {by_key(key, paused=paused) for key in KEYS for paused in (False, True)}
    assert given == set(ORDERS)
