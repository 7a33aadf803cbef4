"""Promises of the card: all of it can be read where it is printed, and nothing is in its way."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from coach.brief.loops import alike
from coach.drawing import figure as figures
from coach.drawing.card import draw
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.problems import Problem
from coach.rehearsal.ready import fly
from coach.words import FIRST
from tests.callouts.flown import SCRIPTS

AIRPLANES = ("meadow-four", "hedgerow-two", "hillside-four", "orchard-two")

# Every fourth maneuver of the library and one that is flown straight ahead, in turn with every
# airplane: among them are each kind of drawing, the figure of most loops, the one of most words.
SAMPLE = [
    (name, AIRPLANES[number % 4])
    for number, name in enumerate([*SCRIPTS[1::4], "short-field-landing"])
]


def drawn(flight: Flight, path: Path, monkeypatch: pytest.MonkeyPatch) -> Figure:
    """The figure of a card that is written to a file."""
    kept: list[Figure] = []
    save = figures.save

    def keeping(figure: Figure, *given: object, **more: object) -> None:
        kept.append(figure)
        save(figure, *given, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(figures, "save", keeping)
    draw(flight, path)
    return kept[0]


def written(figure: Figure) -> list[tuple[Text, Bbox]]:
    """Every text that shows, and where it stands; a tick beyond its axis does not."""
    figure.draw_without_rendering()
    beyond = {
        id(label)
        for axes in figure.axes
        for axis in (axes.xaxis, axes.yaxis)
        for tick in axis.get_major_ticks()
        if not min(axis.get_view_interval()) - 1e-9
        <= tick.get_loc()
        <= max(axis.get_view_interval()) + 1e-9
        for label in (tick.label1, tick.label2)
    }
    found = (one for one in figure.findobj(Text) if isinstance(one, Text))
    return [
        (one, one.get_window_extent())
        for one in found
        if one.get_visible() and one.get_text().strip() and id(one) not in beyond
    ]


@pytest.mark.parametrize(("name", "airplane"), SAMPLE)
def test_no_text_covers_another_leaves_the_page_or_is_too_small(
    name: str, airplane: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    flight = fly(name, airplane, Day())
    figure = drawn(flight, tmp_path / "card.pdf", monkeypatch)
    assert tuple(figure.get_size_inches()) == (5.5, 8.5)
    texts = written(figure)
    edge = 0.2 * figure.dpi  # what printers leave white
    for text, box in texts:
        assert float(text.get_fontsize()) >= 6.0
        assert edge < box.x0 and box.x1 < figure.bbox.x1 - edge, text.get_text()
        assert edge < box.y0 and box.y1 < figure.bbox.y1 - edge, text.get_text()
    for (one, box), (other, theirs) in itertools.combinations(texts, 2):
        assert not box.overlaps(theirs), (one.get_text(), other.get_text())
    said = [text.get_text() for text, _ in texts]
    for group in alike(flight):
        for moment in group.moments:
            speed = f"{moment.ias_kt:.0f} kt"
            lines = [set(one.split("\n")) for one in said]
            assert any({moment.name, speed} <= here for here in lines), moment.name
    assert FIRST in " ".join(said)


def test_a_script_of_very_many_words_has_a_longer_card(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    flight = fly("climb-at-constant-speed", "meadow-four", Day())
    long = flight.maneuver.model_copy(update={"cautions": ("Look out, and then again. " * 20,) * 9})
    vars(flight)["maneuver"] = long
    figure = drawn(flight, tmp_path / "card.pdf", monkeypatch)
    assert figure.get_size_inches()[1] > 8.5
    assert all(box.y0 > 0.0 for _, box in written(figure))


def test_a_card_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    flight = fly("go-around", "meadow-four", Day())
    with pytest.raises(Problem, match=r"card\.svg: its name must end in \.pdf or \.png\."):
        draw(flight, tmp_path / "card.svg")
    with pytest.raises(Problem, match="cannot be written: No such file or directory"):
        draw(flight, tmp_path / "nowhere" / "card.pdf")
    assert not list(tmp_path.iterdir())
    for ending, start in ((".pdf", b"%PDF"), (".png", b"\x89PNG")):
        draw(flight, tmp_path / f"card{ending}")
        assert (tmp_path / f"card{ending}").read_bytes().startswith(start)
    assert len(list(tmp_path.iterdir())) == 2
