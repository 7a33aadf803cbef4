"""What students flew together at one keyboard, side by side: a line and an advice for each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from coach.debrief.debrief import Debrief
from coach.debrief.words import facts
from coach.tables import Whole
from coach.words import CAUTION, listed, titled


def together(debriefs: Sequence[Debrief], *, kept: bool = True) -> RenderableType:
    """Who was how often on time, what each missed, the largest error, and what to work on.

    Args:
        debriefs: of one attempt, one for each student.
        kept: whether the rest can be asked for later.
    """
    table = Table(box=None, header_style="dim", pad_edge=False)
    for head in ("tapper", "on time", "missed"):
        table.add_column(head, no_wrap=True)
    table.add_column("largest")
    advice = Table.grid(padding=(0, 2))
    advice.add_column(style="bold")
    for one in debriefs:
        who, score = one.run.student, one.score
        missed = sum(verdict.word == "missed" for verdict in one.verdicts)
        table.add_row(
            who,
            f"{score.on_time}/{score.checkpoints}",
            f"{missed}" if missed else "",
            next(iter(one.largest), ""),
        )
        advice.add_row(who, Text(one.next))
    run = debriefs[0].run
    each = listed([f"coach debrief {one.run.id} for {one.run.student}" for one in debriefs])
    more = [Text(f"All of it: {each}.")] if kept else []
    return Group(
        Text(f"Debrief: {titled(run.title, run.airplane)}", style="bold"),
        Text(facts(replace(run, student=""))),
        Whole(table),
        advice,
        *_not_counted(debriefs),
        *more,
        Text(CAUTION, style="dim"),
    )


def _not_counted(debriefs: Sequence[Debrief]) -> Iterator[Text]:
    """Whose runs do not count, and why; what holds for all is said once."""
    for words in dict.fromkeys(one.not_counted for one in debriefs if one.not_counted):
        whose = [one.run.student for one in debriefs if one.not_counted == words]
        yield Text(words if len(whose) == len(debriefs) else f"{listed(whose)}: {words}")
