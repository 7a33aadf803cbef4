"""Promises of a day in words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.flight.day import CHOICES, told


@pytest.mark.parametrize(
    ("name", "given", "words"),
    [
        ("altitude", "4500", "4,500 ft"),
        ("altitude", "4,500ft", "4,500 ft"),
        ("altitude", "1400 m", "1,400 m"),
        ("ground", "-200", "-200 ft"),
        ("weight", "2300lb", "2,300 lb"),
        ("entry_speed", "95.5", "95.5 kt"),
        ("heading", "045", "045°"),
        ("heading", "150 deg", "150°"),
        ("temperature", "30 C", "30 °C"),
        ("temperature", "-5", "-5 °C"),
        ("altimeter", "29.80", "29.80 inHg"),
        ("altimeter", "1009hPa", "1009 hPa"),
        ("wind", "calm", "calm"),
        ("wind", "across", "across"),
        ("wind", "across@15", "across at 15 kt"),
        ("wind", "240@12kt", "240 at 12 kt"),
        ("wind", "24015KT", "240 at 15 kt"),
        ("wind", "240/15", "240 at 15 kt"),
        ("direction", "left", "left"),
        ("loops", "2", "2"),
        ("of another version", "7", "7"),
    ],
)
def test_what_was_chosen_is_told_with_its_unit(name: str, given: str, words: str) -> None:
    assert told(name, given) == words


@given(st.sampled_from([*CHOICES, "else"]), st.text(max_size=20))
def test_whatever_an_export_holds_can_be_told(name: str, given: str) -> None:
    assert told(name, given) or not given.strip()
