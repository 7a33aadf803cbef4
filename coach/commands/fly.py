"""``coach brief``, ``coach rehearse`` and ``coach record``."""

from __future__ import annotations

import json
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from coach.commands import kept, options, printing
from coach.problems import Problem, ending, written

if TYPE_CHECKING:
    from coach.flight.day import Day
    from coach.rehearsal.ready import Choices


_FIRST_RUN = "Press the space bar at each checkpoint, when you think you are there."


@click.command()
@click.argument("maneuver")
@options.the_airplane_and_day
@click.option("--json", "as_json", is_flag=True, help="Print the brief for programs.")
@click.option("--table", type=Path, metavar="FILE.csv", help="Write the time history at 10 Hz.")
@click.option("--picture", type=Path, metavar="FILE", help="Draw it, as .png or .svg.")
def brief(
    maneuver: str,
    airplane: str,
    as_json: bool,
    table: Path | None,
    picture: Path | None,
    **given: Any,
) -> None:
    """What goes on the board: entry, checkpoints, standard, errors, cautions."""
    from coach.brief import board, words
    from coach.rehearsal.ready import fly

    flight = fly(maneuver, airplane, options.day(given))
    # Files first: what keeps one from being written must not scroll away above a page.
    if table is not None:
        ending(table, ".csv")
        with written(table) as part:
            part.write_text(board.history_csv(flight), encoding="utf-8")
        click.echo(f"Wrote {table}.", err=True)
    if picture is not None:
        from coach.drawing.brief import draw

        draw(flight, picture)
        click.echo(f"Wrote {picture}.", err=True)
    if as_json:
        click.echo(json.dumps(board.board(flight), indent=2))
    else:
        printing.console().print(words.page(flight))


@click.command()
@click.argument("maneuver")
@options.the_airplane_and_day
@options.the_way_it_is_heard
@click.option("--output", metavar="NAME", help="See coach outputs.  [as in the settings]")
@click.option("--student", default="", metavar="NAME", help="Whose run it is, on this machine.")
@click.option("--tappers", metavar="KEYS", help='A group at one keyboard: "Ada=a, Bo=l".')
@click.option("--listen", is_flag=True, help="Hear what you say; see coach listen.")
@click.option("--microphone", metavar="NAME", help="Which one listens.  [the usual one]")
@click.option(
    "--loudspeakers", is_flag=True, help="The coach is heard in the room, not in the ear."
)
@click.option("--push-to-talk", is_flag=True, help="Listen only from one press of v to the next.")
@click.option("--keep-audio", type=Path, metavar="FILE.wav", help="Keep what was heard.")
def rehearse(
    maneuver: str,
    airplane: str,
    output: str | None,
    student: str,
    tappers: str | None,
    listen: bool,
    microphone: str | None,
    loudspeakers: bool,
    push_to_talk: bool,
    keep_audio: Path | None,
    **given: Any,
) -> None:
    """Fly it with the model in your hand: the coach speaks, the space bar taps checkpoints.

    Where the coach asks for a number, say it aloud, or type it in tens: 3 is 30 degrees of bank, 11
    is 110 knots. p pauses, r starts over, q stops; with --listen "coach pause", "coach go on",
    "coach start over" and "coach stop" do the same. Maneuvers are listed by coach library.
    """
    from coach.commands import hearing, live
    from coach.rehearsal import ready as rehearsal
    from coach.taps import pressing

    if tappers and student:
        raise Problem("--tappers names every student of the group: leave --student out.")
    hearing.check(listen, tappers, microphone, loudspeakers, push_to_talk, keep_audio)
    day, chosen = options.day(given), options.settings(given)
    students = pressing.tappers(tappers) if tappers else {pressing.ALONE: student}
    console = printing.console()
    with kept.logbook() as logbook:
        with console.status("Planning, and waking the voice ..."):
            flight = rehearsal.fly(maneuver, airplane, day)
            name = flight.maneuver.maneuver
            support, why = rehearsal.support(chosen, logbook, name, student)
            choices = rehearsal.Choices.of(chosen, support, given["pace"])
            ready = rehearsal.prepare(flight, day, choices)
            if not tappers and student not in logbook.students():
                why = _FIRST_RUN
            ready = replace(ready, note=ready.note or why)
        output = output or chosen.output or None
        with (
            hearing.ears(ready, microphone, loudspeakers, push_to_talk, keep_audio)
            if listen
            else nullcontext((None, ""))
        ) as (hears, deaf):
            ready = replace(ready, note=deaf or ready.note)
            done = live.fly(ready, logbook, console, output=output, students=students, listen=hears)
        live.tell(done, logbook, console)


@click.command()
@click.argument("maneuver", required=False)
@options.the_airplane_and_day
@options.the_way_it_is_heard
@click.option("--all", "whole", is_flag=True, help="Record the whole library into a folder.")
@click.option(
    "-o",
    "--file",
    type=Path,
    required=True,
    metavar="FILE",
    help=".mp3, .opus, .ogg, .flac or .wav; with --all the folder.",
)
@click.option("--form", default=".mp3", show_default=True, help="Ending of the files of --all.")
@click.option("--captions", type=Path, metavar="FILE.vtt", help="Write the captions as WebVTT.")
@click.option("--picture", type=Path, metavar="FILE", help="Draw what is heard, as .png or .svg.")
def record(
    maneuver: str | None,
    airplane: str,
    whole: bool,
    file: Path,
    form: str,
    captions: Path | None,
    picture: Path | None,
    **given: Any,
) -> None:
    """Write what is heard to a file, to take along."""
    from coach.rehearsal import ready as rehearsal
    from coach.rehearsal.recording import record as write
    from coach.sound.files import FORMS

    day, chosen = options.day(given), options.settings(given)
    # A file is no run: there is no student whose runs could decide.
    support = "everything" if chosen.support == "auto" else chosen.support
    choices = rehearsal.Choices.of(chosen, support, given["pace"])
    if whole:
        if maneuver or captions or picture:
            raise Problem("--all records every maneuver with its captions: name none, draw none.")
        form = form if form.startswith(".") else f".{form}"
        if form not in FORMS:
            raise Problem(f"--form: found '{form}', expected one of {', '.join(FORMS)}.")
        _record_all(file, airplane, day, choices, form)
        return
    if maneuver is None:
        raise Problem("Name a maneuver, or give --all for the whole library.")
    ending(file, *FORMS)
    if captions is not None:
        ending(captions, ".vtt")
    if picture is not None:
        ending(picture, ".png", ".svg")
    ready = rehearsal.prepare(rehearsal.fly(maneuver, airplane, day), day, choices)
    if ready.note:
        click.echo(ready.note, err=True)
    write(ready, file, captions=captions)
    click.echo(f"Wrote {file}, {ready.soundtrack.length_s:.0f} s.", err=True)
    if captions is not None:
        click.echo(f"Wrote {captions}.", err=True)
    if picture is not None:
        from coach.drawing.spectrogram import draw

        draw(ready.soundtrack, ready.sheet, picture)
        click.echo(f"Wrote {picture}.", err=True)
    for sentence in ready.sheet.dropped:
        click.echo(f"Not said: {sentence}.", err=True)


def _record_all(folder: Path, airplane: str, day: Day, choices: Choices, form: str) -> None:
    from rich.progress import Progress, TimeRemainingColumn

    from coach.rehearsal.recording import Recorded, record_all
    from coach.script.catalog import names

    library = dict.fromkeys(names("maneuvers"), choices)
    with Progress(
        *Progress.get_default_columns()[:2],
        TimeRemainingColumn(),
        console=printing.console(stderr=True),
    ) as progress:
        task = progress.add_task("Recording", total=len(library))

        def show(one: Recorded) -> None:
            progress.advance(task)
            said = options.told(one.problem, record) if one.problem else one.note
            if said:
                progress.console.print(f"{one.maneuver}: {said}")

        done = record_all(folder, library, airplane, day, ending=form, show=show)
    made, noted = sum(one.made for one in done), sum(bool(one.note or one.problem) for one in done)
    current = len(done) - made - sum(one.problem is not None for one in done)
    click.echo(f"{folder}: {made} written, {current} current, {noted} with a note.", err=True)
