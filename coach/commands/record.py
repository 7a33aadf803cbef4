"""``coach record``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click
from rich.progress import Progress, TimeRemainingColumn

from coach.commands import options, printing
from coach.commands.group import told
from coach.commands.saying import say
from coach.flight.day import Day
from coach.problems import Problem, can_be_written, ending
from coach.rehearsal.ready import fly, prepare
from coach.rehearsal.recording import Recorded, record_all
from coach.rehearsal.recording import record as write
from coach.script.catalog import names
from coach.settings import Settings
from coach.sound.files import FORMS


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
    day, settings, pace = options.day(given), options.settings(given), given["pace"]
    if whole:
        if maneuver or captions or picture:
            raise Problem("--all records every maneuver with its captions: name none, draw none.")
        form = form if form.startswith(".") else f".{form}"
        if form not in FORMS:
            raise Problem(f"--form: found '{form}', expected one of {', '.join(FORMS)}.")
        _record_all(file, airplane, day, settings, pace, form)
        return
    if maneuver is None:
        raise Problem("Name a maneuver, or give --all for the whole library.")
    ending(file, *FORMS)
    if captions is not None:
        ending(captions, ".vtt")
    if picture is not None:
        ending(picture, ".png", ".svg")
    for path in filter(None, (file, captions, picture)):
        can_be_written(path)
    ready = prepare(fly(maneuver, airplane, day), day, settings, pace=pace)
    if ready.note:
        say(ready.note, err=True)
    write(ready, file, captions=captions)
    say(f"Wrote {file}, {ready.soundtrack.length_s:.0f} s.", err=True)
    if captions is not None:
        say(f"Wrote {captions}.", err=True)
    if picture is not None:
        from coach.drawing.spectrogram import draw  # slow to import, and seldom wanted

        draw(ready.soundtrack, ready.sheet, picture)
        say(f"Wrote {picture}.", err=True)
    for sentence in ready.sheet.dropped:
        say(f"Not said: {sentence}.", err=True)


def _record_all(
    folder: Path, airplane: str, day: Day, settings: Settings, pace: float, form: str
) -> None:
    library = names("maneuvers")
    with Progress(
        *Progress.get_default_columns()[:2],
        TimeRemainingColumn(),
        console=printing.console(stderr=True),
    ) as progress:
        task = progress.add_task("Recording", total=len(library))

        def show(one: Recorded) -> None:
            progress.advance(task)
            said = told(one.problem, record) if one.problem else one.note
            if said:
                progress.console.print(f"{one.maneuver}: {said}")

        done = record_all(
            folder, library, airplane, day, settings, pace=pace, ending=form, show=show
        )
    made, noted = sum(one.made for one in done), sum(bool(one.note or one.problem) for one in done)
    current = len(done) - made - sum(one.problem is not None for one in done)
    say(f"{folder}: {made} written, {current} current, {noted} with a note.", err=True)
