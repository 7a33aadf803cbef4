"""Promises of the page's files: what is on them is valid HTML before anything is filled in."""

from __future__ import annotations

from pathlib import Path

import coach.page
from tests.page.validity import complaints

STATIC = Path(coach.page.__file__).parent / "static"


def test_every_page_is_valid_and_the_checker_is_awake() -> None:
    pages = {path.stem: path.read_text(encoding="utf-8") for path in STATIC.glob("*.html")}
    assert len(pages) == 4
    found = complaints({**pages, "wrong": pages["room"].replace("</aside>", "<img></aside>")})
    assert all("/wrong.html" in line for line in found), found
    assert any("img" in line for line in found)
