"""Promises of the captions, held against https://www.w3.org/TR/webvtt1/, section 4 (from memory)."""

from __future__ import annotations

import html
import re

from hypothesis import given
from hypothesis import strategies as st

from coach.callouts.captions import webvtt
from coach.callouts.cuesheet import Cue, Phrase
from tests.sound.sheets import sheet_of

_TIME = r"(\d{2,}):([0-5]\d):([0-5]\d)\.(\d{3})"
_CUE = re.compile(rf"{_TIME} --> {_TIME}\n([^\n]*)\n?")


def parsed(text: str) -> list[tuple[float, float, str]]:
    head, *blocks = text.split("\n\n")
    assert head == "WEBVTT"
    found = []
    for block in blocks:
        match = _CUE.fullmatch(block)
        assert match, block
        h, m, s, ms, h2, m2, s2, ms2, words = match.groups()
        start = int(h) * 3600 + int(m) * 60 + int(s) + int(ms) / 1000
        end = int(h2) * 3600 + int(m2) * 60 + int(s2) + int(ms2) / 1000
        assert end > start
        found.append((start, end, html.unescape(words)))
    return found


def test_phrases_become_captions_with_their_times_and_tones_do_not() -> None:
    text = webvtt(
        sheet_of(
            Cue(0.5, 1.25, phrase=Phrase("Bank 30, speed 62", "bank thirty, speed sixty two")),
            Cue(1.0, 0.12, tone="checkpoint"),
            Cue(3723.0045, 2, phrase=Phrase("Level", "level")),
        )
    )
    assert text == (
        "WEBVTT\n\n"
        "00:00:00.500 --> 00:00:01.750\nBank 30, speed 62\n\n"
        "01:02:03.004 --> 01:02:05.004\nLevel\n"
    )


def test_a_question_is_shown_while_it_sounds_and_not_while_it_is_answered() -> None:
    text = webvtt(sheet_of(Cue(1.0, 0.5, phrase=Phrase("Speed?", "speed?"), gap_s=2.0)))
    assert parsed(text) == [(1.0, 1.5, "Speed?")]


def test_a_sheet_without_phrases_is_an_empty_but_valid_file() -> None:
    assert parsed(webvtt(sheet_of()).rstrip("\n")) == []


@given(
    words=st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1).filter(str.strip),
    start_s=st.floats(0, 400_000),
    length_s=st.floats(0, 100),
)
def test_any_text_at_any_time_comes_back(words: str, start_s: float, length_s: float) -> None:
    (found,) = parsed(webvtt(sheet_of(Cue(start_s, length_s, phrase=Phrase(words, "")))))
    assert abs(found[0] - start_s) <= 0.000_51
    assert found[2] == " ".join(words.split())


def test_an_arrow_a_tag_and_a_blank_line_in_a_phrase_do_no_harm() -> None:
    (found,) = parsed(webvtt(sheet_of(Cue(0, 1, phrase=Phrase("a --> b\n\n<i>c & d", "")))))
    assert found[2] == "a --> b <i>c & d"
