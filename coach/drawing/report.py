"""One page about a run to hand to an instructor."""

from __future__ import annotations

import io
from pathlib import Path

from coach.debrief.debrief import Debrief
from coach.problems import ending, written


def report(judged: Debrief, path: Path) -> None:
    """Write the page, complete in one file, the same bytes for the same run.

    Args:
        judged: the run, judged beside the earlier ones.
        path: where to; ``.html`` or ``.pdf``.

    Raises:
        Problem: another ending, or the file cannot be written.
    """
    form = ending(path, ".html", ".pdf")
    # Imported here, as the drawing library is: a debrief in words does not wait for it.
    from coach.drawing import report_html, report_pdf
    from coach.drawing.plotting import own_settings

    # In memory first: the drawing library does not tell in words when a disk is full.
    page = io.BytesIO()
    with own_settings():
        if form == ".html":
            page.write(report_html.html(judged).encode())
        else:
            report_pdf.write(judged, page)
    with written(path) as part:
        part.write_bytes(page.getvalue())
