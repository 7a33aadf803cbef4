"""Promises of the page for the instructor."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from html.parser import HTMLParser
from pathlib import Path

import pytest

from coach.debrief.debrief import Debrief, debrief
from coach.drawing.report import report
from coach.problems import Problem
from coach.words import CAUTION
from tests.debrief import students
from tests.debrief.students import RUN, flown
from tests.drawing.test_hand import by_hand

MANY = tuple(replace(RUN.moments[0], name=f"point {at}", time_s=3.0 * at) for at in range(1, 41))
VOID = {"meta", "img", "br"}


class Page(HTMLParser):
    """Reads a page, and complains of what is not closed."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def first(self, wanted: str) -> dict[str, str | None]:
        return next(attributes for tag, attributes in self.tags if tag == wanted)


def judged(**changed: object) -> Debrief:
    run = replace(
        flown(students.late_at_90(1)[:-1], support="tones"),
        student="Ada <b>& Bo</b> $x$",
        day={"weight": "2300 lb"},
        **changed,  # type: ignore[arg-type]
    )
    earlier = [
        replace(flown(students.perfect(ago), support="tones"), started=RUN.started - timedelta(ago))
        for ago in range(1, 6)
    ]
    return debrief(run, earlier)


def test_the_page_is_whole_in_one_file_and_readable_by_a_screen_reader(tmp_path: Path) -> None:
    path = tmp_path / "run.html"
    report(judged(), path)
    text = path.read_text(encoding="utf-8")
    page = Page(text)
    assert page.first("html")["lang"] == "en"
    assert {"title", "main", "h1", "table", "caption"} <= {tag for tag, _ in page.tags}
    assert {scope.get("scope") for tag, scope in page.tags if tag == "th"} == {"col", "row"}
    picture = page.first("img")
    assert (picture["src"] or "").startswith("data:image/svg+xml;base64,")
    assert "15 of 16 checkpoints tapped" in (picture["alt"] or "")
    # No script, nothing fetched, and a name is text and nothing else.
    assert not {"script", "link", "iframe", "b"} & {tag for tag, _ in page.tags}
    assert "http" not in text
    words = " ".join(" ".join(page.words).replace("\xa0", " ").split())
    found = judged()
    for said in ("Ada <b>& Bo</b> $x$", "Lazy eight", "Meadow Four", "full pace", "tones only",
                 found.plain, found.next, found.readiness.sentence, found.trend.words,
                 "Instructor's remarks", CAUTION):  # fmt: skip
        assert said in words


@pytest.mark.parametrize("form", ["html", "pdf"])
def test_the_same_run_gives_the_same_bytes(form: str, tmp_path: Path) -> None:
    paths = [tmp_path / f"{name}.{form}" for name in ("one", "two")]
    for path in paths:
        report(judged(), path)
    assert paths[0].read_bytes() == paths[1].read_bytes()


@pytest.mark.parametrize(
    "changed",
    [
        {},
        {"ended": "stopped", "reached_s": 50.0},
        {"ended": "interrupted", "reached_s": 3.0, "taps": ()},
        {"trace": {}},
        {"motion": by_hand().motion},
        {"pace": 0.5, "moments": MANY},
    ],
    ids=[
        "finished",
        "stopped",
        "nothing reached",
        "without a trace",
        "with a hand",
        "many checkpoints",
    ],
)
def test_every_run_has_one_printed_page(changed: dict[str, object], tmp_path: Path) -> None:
    report(judged(**changed), tmp_path / "run.pdf")
    printed = (tmp_path / "run.pdf").read_bytes()
    assert printed.startswith(b"%PDF") and b"/Count 1" in printed
    report(judged(**changed), tmp_path / "run.html")
    Page((tmp_path / "run.html").read_text(encoding="utf-8"))
    assert len(list(tmp_path.iterdir())) == 2


def test_another_ending_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(Problem, match=r"must end in \.html or \.pdf"):
        report(judged(), tmp_path / "run.doc")


def test_what_was_chosen_of_the_day_has_its_unit(tmp_path: Path) -> None:
    chosen = {"altitude": "4500", "entry_speed": "95", "temperature": "30C", "loops": "2"}
    report(debrief(replace(judged().run, day=chosen)), tmp_path / "run.html")
    words = (tmp_path / "run.html").read_text(encoding="utf-8")
    assert "altitude 4,500 ft, entry speed 95 kt, temperature 30 °C, loops 2" in words
