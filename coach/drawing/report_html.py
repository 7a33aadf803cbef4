"""The instructor's page as HTML: no script, nothing fetched, one printed page."""

from __future__ import annotations

import base64
import io
from html import escape
from string import Template

from coach.debrief.debrief import Debrief
from coach.drawing.debrief import panels
from coach.drawing.figure import blank, save
from coach.drawing.palette import GREY, INK
from coach.drawing.report_words import page
from coach.words import CAUTION

STYLE = Template(
    """
@page { margin: 12mm; }
body { font: 10pt/1.35 sans-serif; color: $ink; max-width: 186mm; margin: 0 auto; }
h1 { font-size: 16pt; margin: 0 0 2mm; }
dl { margin: 0 0 3mm; }
.facts { display: grid; grid-template-columns: repeat(3, auto 1fr); gap: 0 3mm; }
.said { display: grid; grid-template-columns: 26mm 1fr; }
dt { font-weight: bold; }
dd { margin: 0; }
table { border-collapse: collapse; width: 100%; font-size: 9pt; margin: 0 0 3mm; }
caption { text-align: left; font-weight: bold; }
th, td { border: 0.3mm solid $grey; padding: 0.5mm 1.5mm; text-align: left; }
img { display: block; width: 100%; margin: 0 0 3mm; }
.remarks { border: 0.3mm solid $grey; min-height: 24mm; padding: 1mm 2mm; break-inside: avoid; }
.remarks h2 { font-size: 10pt; margin: 0; }
.caution { font-size: 8pt; margin: 2mm 0 0; }
"""
).substitute(ink=INK, grey=GREY)


def html(judged: Debrief) -> str:
    """The whole page as text."""
    sheet = page(judged)
    title = escape(sheet.title)
    loops = "".join(f'<th scope="col">{escape(loop)}</th>' for loop in sheet.loops)
    rows = "\n".join(
        f'<tr><th scope="row">{escape(name)}</th>'
        f"{''.join(f'<td>{escape(cell)}</td>' for cell in cells)}</tr>"
        for name, cells in sheet.checkpoints
    )
    table = f"""<table>
<caption>Checkpoints</caption>
<thead><tr><th scope="col">at</th>{loops}</tr></thead>
<tbody>
{rows}
</tbody>
</table>
"""
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Debrief: {title}</title>
<style>{STYLE}</style>
</head>
<body>
<main>
<h1>Debrief: {title}</h1>
{_terms("facts", sheet.facts)}
{table if sheet.checkpoints else ""}<img alt="{escape(sheet.alt)}" src="{_picture(judged)}">
{_terms("said", sheet.said)}
<section class="remarks"><h2>Instructor's remarks</h2></section>
<p class="caution">{escape(CAUTION)}</p>
</main>
</body>
</html>
"""


def _terms(kind: str, said: tuple[tuple[str, str], ...]) -> str:
    """A list of terms; one without a name is said of the one before it."""
    groups: list[tuple[str, list[str]]] = []
    for name, words in said:
        if name:
            groups.append((name, []))
        groups[-1][1].append(words)
    lines = "\n".join(
        f"<dt>{escape(name)}</dt><dd>{'<br>'.join(map(escape, words))}</dd>"
        for name, words in groups
    )
    return f'<dl class="{kind}">\n{lines}\n</dl>'


def _picture(judged: Debrief) -> str:
    """The picture as the address of itself."""
    figure = blank(8.6, 5.2 if judged.hand else 4.4)
    panels(figure, judged)
    drawn = io.BytesIO()
    save(figure, drawn, "svg")
    return f"data:image/svg+xml;base64,{base64.b64encode(drawn.getvalue()).decode('ascii')}"
