"""One page about a run to hand to an instructor."""

from __future__ import annotations

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
    from coach.debrief import report_html, report_pdf

    with written(path) as part:
        if form == ".html":
            part.write_text(report_html.page(judged), encoding="utf-8")
        else:
            report_pdf.write(judged, part)
