"""The report in words: what stands on its page, whatever that is printed with."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from coach.callouts.support import support_words
from coach.debrief.debrief import Debrief
from coach.debrief.gauging import pace_words
from coach.debrief.verdict import Verdict, by_name
from coach.debrief.words import held, said, sentences, standard_words
from coach.flight.day import told
from coach.words import day_and_minute


@dataclass(frozen=True)
class Page:
    """The page in words.

    Attributes:
        title: the maneuver.
        facts: who, what and when, each with its name.
        loops: the head of the table's columns.
        checkpoints: the table: each checkpoint's name with a cell for every loop.
        said: how it went and what comes next, each with its name.
        alt: the picture in words.
    """

    title: str
    facts: tuple[tuple[str, str], ...]
    loops: tuple[str, ...]
    checkpoints: tuple[tuple[str, tuple[str, ...]], ...]
    said: tuple[tuple[str, str], ...]
    alt: str


def page(judged: Debrief) -> Page:
    """The page about one run."""
    run = judged.run
    conditions = ", ".join(
        f"{name.replace('_', ' ')} {told(name, value)}" for name, value in run.day.items()
    )
    ended = "" if run.ended == "finished" else f" after {run.reached_s / run.pace:.0f} s"
    facts = {
        "student": run.student,
        "airplane": run.airplane,
        "day": day_and_minute(run.started),
        "pace": pace_words(run.pace).removeprefix("at "),
        "support": support_words(run.support),
        "conditions": conditions,
        "run": f"{run.ended}{ended}",
    }
    loops = tuple(dict.fromkeys(row.loop for row in judged.verdicts))
    done = "flown" if judged.hand else "tapped"
    return Page(
        title=run.title,
        facts=tuple((name, value) for name, value in facts.items() if value),
        loops=tuple(f"loop {loop}" for loop in loops) if len(loops) > 1 else (done,) * len(loops),
        checkpoints=tuple(
            (name, tuple(_cell(rows, loop) for loop in loops))
            for name, rows in by_name(judged.verdicts).items()
        ),
        said=(
            *sentences(judged),
            *(
                ("" if place else "standard", words)
                for place, words in enumerate(standard_words(judged))
            ),
        ),
        alt=(f"Seconds early or late at each checkpoint, and {_below(judged)}. {judged.plain}"),
    )


def _below(judged: Debrief) -> str:
    """What the picture's lower panels show."""
    if judged.hand:
        return "pitch and bank as they were flown, over the plan with all that is near enough"
    return "the planned and tapped moments on the traces of airspeed and bank"


def _cell(rows: Sequence[Verdict], loop: int) -> str:
    """One checkpoint in one loop: ``"0.9 s late: 8°, 1 kt"``; "" where the run did not get to."""
    found = [row for row in rows if row.loop == loop]
    if not found:
        return ""
    row = found[0]
    words: str = row.word
    if row.flown:
        also = f"tapped {abs(row.error_s or 0.0):.1f} s {row.timed}" if row.meaning else ""
        words = ", ".join(filter(None, (words, held(row.flown), also)))
    elif row.meaning:
        heading, speed = abs(row.heading_deg or 0.0), abs(row.speed_kt or 0.0)
        words = f"{abs(row.error_s or 0.0):.1f} s {row.timed}: {heading:.0f}°, {speed:.0f} kt, "
        words += f"{10 * round(abs(row.altitude_ft or 0.0) / 10.0)} ft"
        # A number is not torn from its unit at the end of a line.
        words = re.sub(" (?=kt|ft)", "\N{NO-BREAK SPACE}", words)
    return ", ".join(part for part in (words, said(row)) if part)
