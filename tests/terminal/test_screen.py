from __future__ import annotations

import io
import math
from dataclasses import replace
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.console import Console
from rich.live import Live

from coach.terminal.horizon import NOSE, OWN, horizon
from coach.terminal.lettering import big
from coach.terminal.screen import draw
from coach.terminal.seen import Mark, MarkState, State, View
from coach.terminal.stage import HANDS

VIEW = View(
    title="Lazy eight",
    airplane="Meadow Four",
    loop=2,
    loops=4,
    side="left",
    state="running",
    leg="nose falling, bank to steepest",
    pitch_deg=8.2,
    bank_deg=-22.4,
    ias_kt=71.6,
    altitude_ft=3452.0,
    next_name="90",
    next_reference="the white barn",
    next_in_s=4.3,
    next_of_s=8.6,
    caption="Let the nose fall, keep rolling.",
    marks=(Mark("45", "tapped"), Mark("90", "missed"), Mark("135", "coming")),
    message="No sound device: follow the captions.",
)
SIZES = [(60, 16), (80, 24), (120, 40)]

words = st.text(max_size=60)
views = st.builds(
    View,
    title=words,
    airplane=words,
    loop=st.integers(1, 20),
    loops=st.integers(1, 20),
    side=st.sampled_from(["left", "right"]),
    state=st.sampled_from(get_args(State)),
    leg=words | st.sampled_from([VIEW.leg, "climbing, bank building"]),
    pitch_deg=st.floats(-90, 90),
    bank_deg=st.floats(-180, 180),
    ias_kt=st.floats(0, 400),
    altitude_ft=st.floats(-1000, 40000),
    next_name=words,
    next_reference=words,
    next_in_s=st.floats(-10, 1000),
    next_of_s=st.floats(-10, 1000),
    caption=st.text(max_size=300),
    marks=st.lists(st.builds(Mark, words, st.sampled_from(get_args(MarkState))), max_size=9).map(
        tuple
    ),
    message=words,
    count_in_s=st.floats(-10, 100),
    hand=st.sampled_from(["", *HANDS.values()]),
    hand_pitch_deg=st.none() | st.floats(-90, 90),
    hand_bank_deg=st.none() | st.floats(-180, 180),
)


def rows(view: View, width: int, height: int, plain: bool = False) -> list[str]:
    return draw(view, width, height, plain).plain.split("\n")


def test_a_line_that_is_too_long_ends_with_a_whole_word() -> None:
    marks = tuple(Mark(f"checkpoint{number}", "coming") for number in range(12))
    view = replace(VIEW, state="paused", title="Turns around a point", marks=marks)
    known = {word for row in rows(view, 400, 24) for word in row.split()}
    for width in range(60, 150):
        for row in rows(view, width, 24):
            if "Turns" in row or "checkpoint" in row:
                assert set(row.split()) <= known, row


@given(views, st.sampled_from(SIZES) | st.tuples(st.integers(1, 200), st.integers(1, 70)))
def test_any_screen_fits(view: View, size: tuple[int, int]) -> None:
    width, height = size
    for plain in (False, True):
        drawn = rows(view, width, height, plain)
        assert len(drawn) <= height
        assert max(cell_len(row) for row in drawn) <= width
        assert all(sign.isprintable() for row in drawn for sign in row)
        assert not plain or all(row.isascii() for row in drawn)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_a_full_screen_uses_every_row(width: int, height: int) -> None:
    for state in get_args(State):
        assert len(rows(replace(VIEW, state=state), width, height)) == height


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("plain", [False, True])
def test_everything_promised_is_shown(width: int, height: int, plain: bool) -> None:
    shown = "\n".join(rows(VIEW, width, height, plain))
    for promised in [
        "Lazy eight",
        "loop 2 of 4, to the left",
        "Meadow Four",
        "above level",
        "left",
        "72 kt",
        "3,452 ft",
        "seconds to 90",
        "the white barn",
        "Let the nose fall, keep rolling.",
        "No sound device: follow the captions.",
        "(o) 45" if plain else "● 45",
        "(x) 90" if plain else "× 90",
        "( ) 135" if plain else "○ 135",
        "space tap",
        "p pause",
        "r start over",
        "q stop",
    ]:
        assert promised in shown
    assert ("tapped" in shown and "missed" in shown) or (plain and width < 80)


@pytest.mark.parametrize(("width", "height"), [(80, 24), (120, 40)])
def test_the_leg_the_attitude_and_the_seconds_are_written_large(width: int, height: int) -> None:
    shown = rows(VIEW, width, height)
    room, tall = (72, 3) if height == 24 else (112, 5)
    for large in [
        big(VIEW.leg, room, 6 if height == 24 else 11),
        big("8°", 22, tall),
        big("22°", 22, tall),
        big("5", 18, tall),
    ]:
        assert len([row for row in large if row.strip()]) >= 3
        for line in filter(str.strip, large):
            assert any(line.strip() in row for row in shown)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_each_state_says_what_it_is(width: int, height: int) -> None:
    room, tall = width - 8, {16: 3, 24: 6, 40: 11}[height]
    for state, seconds, words_shown in [
        ("count-in", 2.3, "starting in 3"),
        ("paused", 0.0, "paused"),
        ("finished", 0.0, "finished"),
    ]:
        shown = rows(replace(VIEW, state=state, count_in_s=seconds), width, height)  # type: ignore[arg-type]
        for line in filter(str.strip, big(words_shown, room, tall)):
            assert any(line.rstrip() in row for row in shown)


def test_a_long_message_is_shown_whole_below_the_caption() -> None:
    message = "The sound device is gone: captions only; connect it and start again, please do."
    shown = " ".join(" ".join(rows(replace(VIEW, message=message), 80, 24)).split())
    assert message in shown and VIEW.caption in shown


def test_the_keys_shown_are_those_that_do_something() -> None:
    assert "p go on" in rows(replace(VIEW, state="paused"), 80, 24)[-1]
    assert "tap" not in rows(replace(VIEW, state="paused"), 80, 24)[-1]
    assert "pause" not in rows(replace(VIEW, state="finished"), 80, 24)[-1]


def test_a_small_terminal_gets_plain_lines_the_most_needed_first() -> None:
    shown = rows(VIEW, 50, 3)
    assert shown == [
        "nose falling, bank to steepest",
        "nose 8° above level, 22° left",
        "90 in 5 s",
    ]


def test_a_small_terminal_gets_whole_sentences_and_every_key() -> None:
    said = "On the tone, roll right gently, then ever slower, and raise the nose."
    shown = rows(replace(VIEW, caption=said), 40, 10)
    assert said in " ".join(shown)
    assert "space tap  p pause  r start over  q stop" in shown


def test_the_bar_shrinks_and_the_seconds_reach_zero_with_the_checkpoint() -> None:
    def bar(left_s: float) -> int:
        reference = next(
            number
            for number, row in enumerate(rows(replace(VIEW, next_in_s=left_s), 80, 24))
            if VIEW.next_reference in row
        )
        return rows(replace(VIEW, next_in_s=left_s), 80, 24)[reference + 1][20:].count("█")

    assert bar(8.6) > bar(4.3) > bar(1.0) > bar(0.0) == 0
    assert "90 in 1 s" in rows(replace(VIEW, next_in_s=0.1), 50, 3)
    assert "90 in 0 s" in rows(replace(VIEW, next_in_s=0.0), 50, 3)


def test_a_console_without_colour_or_block_characters_shows_the_same_words() -> None:
    for encoding in ("ascii", "iso8859-1", "utf-8"):
        raw = io.BytesIO()
        file = io.TextIOWrapper(raw, encoding=encoding)
        console = Console(file=file, width=80, height=24, no_color=True, force_terminal=True)
        with Live(console=console, screen=True, auto_refresh=False) as live:
            live.update(draw(VIEW, 80, 24, console.options.ascii_only), refresh=True)
        file.flush()
        assert "the white barn" in raw.getvalue().decode(encoding)


def land(pitch_deg: float, bank_deg: float, columns: slice = slice(None)) -> int:
    """How much of the picture is land, in cells; an edge counts as a cell."""
    picture = horizon(pitch_deg, bank_deg, 40, 10)
    return sum(1 for row in picture for sign in row[columns] if sign != " ")


@given(st.floats(-20, 20), st.floats(5, 60))
def test_banking_right_raises_the_land_on_the_right(pitch_deg: float, bank_deg: float) -> None:
    left, right = slice(0, 18), slice(22, 40)
    assert land(pitch_deg, bank_deg, right) > land(pitch_deg, bank_deg, left)
    assert land(pitch_deg, -bank_deg, right) < land(pitch_deg, -bank_deg, left)


@given(st.floats(-60, 60))
def test_raising_the_nose_sinks_the_land(bank_deg: float) -> None:
    amounts = [land(pitch_deg, bank_deg) for pitch_deg in (-20, -10, 0, 10, 20)]
    assert amounts == sorted(amounts, reverse=True)
    assert amounts[0] > amounts[-1]


@given(st.floats(-90, 90), st.floats(-180, 180), st.integers(4, 120), st.integers(1, 40))
def test_the_nose_and_the_land_never_leave_the_picture(
    pitch_deg: float, bank_deg: float, width: int, height: int
) -> None:
    picture = horizon(pitch_deg, bank_deg, width, height)
    assert [len(row) for row in picture] == [width] * height
    assert NOSE in picture[height // 2]


def test_the_horizon_is_tilted_by_the_bank_itself() -> None:
    # A cell is twice as high as wide: 30 degrees of bank rise tan(30) half cells a column.
    picture = horizon(0, 30, 40, 30)
    heights = [sum(row[column] != " " for row in picture) for column in (2, 37)]
    assert (heights[1] - heights[0]) * 2 / 35 == pytest.approx(math.tan(math.radians(30)), abs=0.05)


@given(st.text(max_size=80), st.integers(1, 120), st.integers(1, 12), st.booleans())
def test_letters_fit_the_room_they_are_given(
    text: str, columns: int, room: int, plain: bool
) -> None:
    drawn = big(text, columns, room, plain)
    assert len(drawn) == room
    assert all(len(row.rstrip()) <= columns for row in drawn)


@pytest.mark.parametrize(("width", "height"), [*SIZES, (40, 10)])
@pytest.mark.parametrize("hand", HANDS.values())
def test_how_it_is_with_the_hand_is_always_told(width: int, height: int, hand: str) -> None:
    view = replace(VIEW, hand=hand, title="Turns around a point near the river" * 2)
    assert f"hand {hand}" in "\n".join(rows(view, width, height))
    assert "hand" not in "\n".join(rows(VIEW, width, height))


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_the_own_attitude_stands_beside_the_planned_one_where_it_is_shown(
    width: int, height: int
) -> None:
    shown = rows(
        replace(VIEW, hand="flying", hand_pitch_deg=-3.6, hand_bank_deg=31.0), width, height
    )
    whole = "\n".join(shown)
    assert "you 4° down" in whole and "you 31° right" in whole and OWN in whole
    # To the other side than the plan, so both horizons cross.
    lines = [(row.find(OWN), row) for row in shown if OWN in row]
    assert [at for at, _ in lines] == sorted((at for at, _ in lines), reverse=True)
    level = "\n".join(rows(replace(VIEW, hand_pitch_deg=0.2, hand_bank_deg=-0.3), width, height))
    assert level.count("you level") == 2
    without = "\n".join(rows(replace(VIEW, hand="flying"), width, height))
    assert "you" not in without and OWN not in without
