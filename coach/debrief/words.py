"""The debrief for the eyes: one screen in a terminal."""

from __future__ import annotations

from rich import box
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from coach.caution import CAUTION
from coach.debrief.checkpoints import Row
from coach.debrief.debrief import Debrief
from coach.logbook.run import Run


def screen(debrief: Debrief) -> RenderableType:
    """The checkpoints as a table, three sentences, and the caution."""
    run = debrief.run
    number = "" if run.id is None else f", run {run.id}"
    parts: list[RenderableType] = [
        Text(f"Debrief{number}: {run.title} — {run.airplane}", style="bold"),
        Text(_facts(run)),
    ]
    if debrief.timing.pairs:
        parts.append(_table(debrief.rows))
    sentences = Table.grid(padding=(0, 2))
    for name, sentence in (
        ("how it went", debrief.plain),
        ("in numbers", debrief.summary),
        ("next", debrief.next),
    ):
        style = "bold" if name == "next" else ""
        sentences.add_row(Text(name, style="bold"), Text(sentence, style=style))
    return Group(
        *parts, Padding(sentences, (0 if debrief.timing.pairs else 1, 0, 1, 0)), Text(CAUTION)
    )


def _facts(run: Run) -> str:
    facts = [f"{run.started:%Y-%m-%d %H:%M}"]
    if run.student:
        facts.append(run.student)
    if run.pace != 1.0:
        facts.append(f"pace {run.pace:g}")
    if run.support:
        facts.append(f"support: {run.support}")
    facts.append(
        run.ended if run.ended == "finished" else f"{run.ended} at {_clock(run.reached_s)}"
    )
    return ", ".join(facts)


def _table(rows: tuple[Row, ...]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 2, 0, 0), pad_edge=False)
    for name in ("loop", "at", "planned", "tapped", "error"):
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    for name in ("heading off", "speed off"):
        table.add_column(name, justify="right", no_wrap=True)
    loop = 0
    for row in rows:
        table.add_row(
            str(row.loop) if row.loop != loop else "",
            row.name,
            _clock(row.planned_s),
            "-" if row.tapped_s is None else _clock(row.tapped_s),
            _signed(row.error_s, " s", decimals=1),
            Text(row.word, style="" if row.word == "on time" else "bold"),
            _signed(row.heading_deg, "°"),
            _signed(row.speed_kt, " kt"),
        )
        loop = row.loop
    return table


def _signed(value: float | None, unit: str, decimals: int = 0) -> str:
    if value is None:
        return ""
    shown = round(value, decimals)
    return f"{shown:+.{decimals}f}{unit}" if shown else f"0{unit}"


def _clock(seconds: float) -> str:
    tenths = round(seconds * 10)
    return f"{tenths // 600}:{tenths // 10 % 60:02d}.{tenths % 10}"
