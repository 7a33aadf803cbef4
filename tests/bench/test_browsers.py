"""Eight phones in one room, in real browsers: how far every tap is off the sound that was heard.

Run with ``-s`` to see the figures.
"""

from __future__ import annotations

import statistics
from pathlib import Path

from tests.page.browsing import driver, with_a_kite
from tests.page.test_browser_room import fly_together
from tests.sound.null_sink import NullSink

NAMES = ["Alex", "Bo", "Charlie", "Dana", "Eli", "Finn", "Gray", "Harper"]


def test_eight_phones_of_which_one_drops(null_sink: NullSink, tmp_path: Path) -> None:
    with_a_kite(tmp_path)
    with driver() as playwright:
        errors, _ = fly_together(playwright, null_sink, tmp_path, "Eight", NAMES)
    assert len(errors) == 2 * len(NAMES)
    sizes = sorted(1000 * abs(error) for error in errors)
    print(f"\nmedian {statistics.median(sizes):.1f} ms, worst {sizes[-1]:.1f} ms of {len(sizes)}")
