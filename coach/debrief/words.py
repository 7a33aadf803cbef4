"""The debrief for the eyes: one screen in a terminal, and the full table."""

from __future__ import annotations

from collections.abc import Sequence

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from coach.callouts.support import support_words
from coach.debrief.debrief import Debrief
from coach.debrief.flown import Flown
from coach.debrief.gauging import pace_words
from coach.debrief.verdict import Verdict
from coach.logbook.run import Run
from coach.tables import Whole
from coach.words import CAUTION, clock, day_and_minute, titled


def screen(debrief: Debrief) -> RenderableType:
    """How it went, the largest errors, the next run, the trend and the caution.

    A maneuver of four loops with four checkpoints each fits on 80 columns and 23 lines.
    """
    lines = Table.grid(padding=(0, 2))
    lines.add_column(style="bold", no_wrap=True)
    if debrief.score.tapped or debrief.perceived:
        _add_loops(lines, debrief.verdicts)
    for name, words in sentences(debrief):
        lines.add_row(name, Text(words, style="bold" if name == "next" else ""))
    number = "" if debrief.run.id is None else f", run {debrief.run.id}"
    return Group(
        Text(f"Debrief{number}: {titled(debrief.run.title, debrief.run.airplane)}", style="bold"),
        Text(facts(debrief.run)),
        lines,
        Text(CAUTION, style="dim"),
    )


def sentences(debrief: Debrief) -> list[tuple[str, str]]:
    """What there is to say of a run in words, each with its name; one without goes on with it."""
    answers = [("answers", debrief.hesitation.words)] if debrief.hesitation else []
    largest = [("" if place else "largest", words) for place, words in enumerate(debrief.largest)]
    found = [
        ("how it went", debrief.plain),
        *([("the hand", debrief.hand.words)] if debrief.hand else []),
        *([("left out", debrief.perceived)] if debrief.perceived else []),
        *([("on the tone", debrief.tones)] if debrief.tones else []),
        *([("", debrief.not_counted)] if debrief.not_counted else []),
        *answers,
        *largest,
        ("trend", f"{debrief.trend.spark} {debrief.trend.words}".strip()),
        ("readiness", debrief.readiness.sentence),
        ("next", debrief.next),
        ("next run", f"{debrief.next_run.words.capitalize()}. {debrief.next_run.reason}"),
    ]
    # A number is not torn from its sign at the end of a line.
    return [(name, words.replace(" %", "\N{NO-BREAK SPACE}%")) for name, words in found]


def facts(run: Run) -> str:
    """When, who, how fast, how much support, and how it ended, in one line."""
    words = [day_and_minute(run.started)]
    if run.student:
        words.append(run.student)
    if run.room:
        words.append(f"in room {run.room}")
    words.append(pace_words(run.pace))
    if run.support:
        words.append(support_words(run.support))
    ended = "" if run.ended == "finished" else f" at {clock(run.reached_s / run.pace, tenths=True)}"
    return ", ".join([*words, f"{run.ended}{ended}"])


def table(debrief: Debrief) -> RenderableType:
    """Every checkpoint with its times in the student's own seconds, and the timing in figures.

    Columns with nothing in them are left out, such as the errors where everything was answered.
    """
    # Where a hand was seen the airplane is where it was flown, and not where it was to be at a tap.
    tapped = [None if verdict.flown else verdict for verdict in debrief.verdicts]
    cells: dict[str, list[str | Text]] = {
        "loop": [],
        "at": [verdict.name for verdict in debrief.verdicts],
        "due": [clock(verdict.planned_s, tenths=True) for verdict in debrief.verdicts],
        **_held(debrief.verdicts),
        "tapped": [
            "" if verdict.tapped_s is None else clock(verdict.tapped_s, tenths=True)
            for verdict in debrief.verdicts
        ],
        "error": [signed(verdict.error_s, " s", decimals=1) for verdict in debrief.verdicts],
        "": [
            Text(verdict.word, "" if verdict.word == "on time" else "bold")
            for verdict in debrief.verdicts
        ],
        "hdg": [signed(row.heading_deg if row else None, "°") for row in tapped],
        "speed": [signed(row.speed_kt if row else None, " kt") for row in tapped],
        "alt": [signed(row.altitude_ft if row else None, " ft") for row in tapped],
        "said": [said(verdict) for verdict in debrief.verdicts],
    }
    loop = 0
    for verdict in debrief.verdicts:
        cells["loop"].append(str(verdict.loop) if verdict.loop != loop else "")
        loop = verdict.loop
    shown = {name: column for name, column in cells.items() if any(map(str, column))}
    # On 80 columns nothing but a long name, or several numbers said at once, takes a second line.
    columns = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False)
    for name in shown:
        columns.add_column(
            name,
            justify="left" if name in ("", "said") else "right",
            no_wrap=name not in ("at", "said"),
            min_width=12 if name == "said" else None,
            max_width=13 if name == "at" else None,
        )
    for cell in zip(*shown.values(), strict=True):
        columns.add_row(*cell)
    limits = [Text(words) for words in standard_words(debrief)]
    summary = [Text(debrief.summary)] if debrief.summary else []
    return Group(Whole(columns), *summary, *limits)


def _held(verdicts: Sequence[Verdict]) -> dict[str, list[str | Text]]:
    """What the hand held, and in brackets what belongs; bold where that is not right."""
    found: dict[str, list[str | Text]] = {"bank": [], "pitch": [], "flown": []}
    for verdict in verdicts:
        flown = verdict.flown
        for angle in flown.angles if flown else ():
            found[angle.of].append(Text(angle.short, "bold" if angle.word != "on time" else ""))
        if flown is None:
            found["bank"].append("")
            found["pitch"].append("")
        off_s = flown.late_s if flown and flown.word in ("early", "late") else None
        found["flown"].append(signed(off_s, " s", decimals=1))
    return found


def held(flown: Flown) -> str:
    """What is not right about what the hand held: ``"bank 41° (30)"``; "" for nothing.

    What belongs is in brackets.
    """
    wrong = [angle for angle in flown.angles if angle.word != "on time"]
    return ", ".join(f"{angle.of} {angle.short}" for angle in wrong)


def standard_words(debrief: Debrief) -> list[str]:
    """What the maneuver is judged by, a line for each of its standards."""
    return [
        *([debrief.not_asked] if debrief.not_asked else []),
        *(
            f"{one.title[0].upper()}{one.title[1:]}: {'; '.join(one.lines)}."
            for one in debrief.standards
        ),
    ]


def said(verdict: Verdict) -> str:
    """What was said at a checkpoint, and in brackets what belongs.

    Such as ``"by voice, bank 20 (30) after 1.2 s"``.
    """
    voiced = verdict.how == "voice" or verdict.answered
    words = ["by voice"] if voiced else []
    words += [answer.short for answer in verdict.answers]
    if verdict.hesitation_s is not None:
        words[-1] += f" after {verdict.hesitation_s:.1f} s"
    words += [f"“{name}” out of order" for name in verdict.misnamed]
    return ", ".join(words)


def signed(value: float | None, unit: str, decimals: int = 0) -> str:
    """``"+0.5 s"``, ``"0 kt"``; "" for None."""
    if value is None:
        return ""
    shown = round(value, decimals)
    return f"{shown:+.{decimals}f}{unit}" if shown else f"0{unit}"


def _add_loops(lines: Table, verdicts: tuple[Verdict, ...]) -> None:
    """A line for each loop, its checkpoints one below another where they fit on it."""
    cells = {verdict: f"{verdict.name} {_mark(verdict)}" for verdict in verdicts}
    wide = {
        name: max(len(cell) for verdict, cell in cells.items() if verdict.name == name)
        for name in {verdict.name for verdict in verdicts}
    }
    loops = dict.fromkeys(verdict.loop for verdict in verdicts)
    for loop in loops:
        here = [
            cells[verdict].ljust(wide[verdict.name]) for verdict in verdicts if verdict.loop == loop
        ]
        # A cell is not torn apart where the line is too long.
        line = "   ".join(cell.replace(" ", "\N{NO-BREAK SPACE}") for cell in here)
        once = "flown" if any(verdict.flown for verdict in verdicts) else "taps"
        lines.add_row(f"loop {loop}" if len(loops) > 1 else once, Text(line))


def _mark(verdict: Verdict) -> str:
    """``"+0.5"``, ``"ok"`` where it is on time, ``"?"`` where it was not perceived, or its word.

    Of a hand ``"bank +11°"`` or ``"other side"`` where it is wrong. With ``"!"`` where something
    wrong was said, or tapped too early or late, as well.
    """
    flown = verdict.flown
    if verdict.word in ("early", "late"):
        off_s = flown.late_s if flown else verdict.error_s
        mark = signed(off_s, "", decimals=1) or verdict.word
    elif flown and flown.word == "wrong":
        worst = flown.worst
        mark = "other side" if worst.is_turned else f"{worst.of} {signed(worst.off_deg, '°')}"
    else:
        mark = {"on time": "ok", "not perceived": "?"}.get(verdict.word, verdict.word)
    also = verdict.wrong or verdict.misnamed or (flown and verdict.meaning)
    return f"{mark}{' !' if also and mark != 'wrong' else ''}"
