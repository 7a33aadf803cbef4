"""Promises of the brief for a glance, of loops told once, and of narrow terminals."""

from __future__ import annotations

import io

import pytest
from rich.console import Console, RenderableType

from coach.brief.board import board, entry
from coach.brief.loops import alike
from coach.brief.short import short
from coach.brief.warnings import warnings
from coach.brief.words import page
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.rehearsal.ready import fly
from coach.script.standards import asked_at, in_figures
from coach.words import FIRST
from tests.callouts.flown import SCRIPTS

# Every third, and what is told loop by loop.
LIBRARY = [*SCRIPTS[::3], "s-turns"]


@pytest.fixture(scope="module")
def flights() -> list[Flight]:
    return [fly(name, "meadow-four", Day()) for name in LIBRARY]


def shown(what: RenderableType, wide: int) -> list[str]:
    console = Console(width=wide, record=True, file=io.StringIO(), highlight=False, markup=False)
    console.print(what)
    return console.export_text().splitlines()


@pytest.mark.parametrize("wide", [80, 40])
def test_the_short_brief_has_the_numbers_of_every_checkpoint(
    flights: list[Flight], wide: int
) -> None:
    for flight in flights:
        lines = shown(short(flight), wide)
        assert max(map(len, lines)) <= wide
        words = " ".join(" ".join(lines).split())
        assert "…" not in words and FIRST in words
        for group in alike(flight):
            for moment in group.moments:
                assert set(moment.name.split()) <= set(words.split())
                assert f"{moment.ias_kt:.0f}" in words.split()
                assert f"{round(moment.altitude_ft):,}" in words.split()
        for _, limits in in_figures(asked_at(flight.maneuver.standard, None)):
            assert all(limit in words for limit in limits)
        assert all(line in words for line in warnings(flight))


def test_the_short_brief_leaves_room_on_a_terminal_of_24_rows(flights: list[Flight]) -> None:
    lengths = [len(shown(short(flight), 80)) for flight in flights]
    assert max(lengths) < 24
    # With every checkride's limits, and the airplane's own numbers.
    assert sorted(lengths)[len(lengths) // 2] <= 13


def test_what_several_checkrides_ask_alike_is_told_once_and_first() -> None:
    pattern = fly("traffic-pattern", "meadow-four", Day())
    (both, alike_), (first, own), (second, others) = in_figures(pattern.maneuver.standard)
    assert (both, first, second) == ("private and commercial", "private", "commercial")
    assert "pattern altitude ±100 ft" in alike_
    assert "airspeed on final +10 −5 kt" in own and "airspeed on final ±5 kt" in others
    assert not {*alike_} & {*own, *others}
    assert len(shown(short(pattern), 80)) <= 14


def test_the_short_brief_has_the_airplanes_own_numbers_where_they_are_flown_or_said() -> None:
    pattern = fly("traffic-pattern", "meadow-four", Day())
    words = " ".join(" ".join(shown(short(pattern), 40)).split())
    for row in entry(pattern)["handbook"]:
        assert f"{row['what']} {row['value']}" in words
    assert "approach 67 kt" in words
    assert "handbook  " not in "\n".join(shown(short(fly("lazy-eight", "meadow-four", Day())), 80))


def test_loops_that_are_flown_alike_are_told_once_and_others_by_themselves() -> None:
    eight, turns = (fly(name, "meadow-four", Day()) for name in ("lazy-eight", "s-turns"))
    (group,) = alike(eight)
    assert group.loops == (1, 2, 3, 4)
    assert group.sides == ("right", "left", "left", "right")
    assert [call.name for call in group.calls] == ["45", "90", "135", "180"]
    assert group.calls[1].aloud == (
        f"pitch level, bank 30° right, {group.moments[1].ias_kt:.0f} kt, "
        f"{10 * round(group.moments[1].altitude_ft / 10):,} ft; then descending, bank coming off"
    )
    # In the wind a half circle is not flown as its mirror image is.
    assert [one.loops for one in alike(turns)] == [(1,), (2,)]
    assert board(turns)["loops"][1]["sides"] == ["left"]
    assert alike(turns)[1].calls[-1].begins == ""  # it is over


def test_on_forty_columns_the_brief_loses_no_cell_of_its_table(flights: list[Flight]) -> None:
    for flight in flights:
        lines = shown(page(flight), 40)
        assert max(map(len, lines)) <= 40
        words = " ".join(" ".join(lines).split())
        assert "…" not in words
        for moment in flight.moments:
            assert f"at {moment.name} time" in words
            assert f"feet {round(moment.altitude_ft):,}" in words
            assert f"margin {moment.stall_margin_kt:.0f}" in words
