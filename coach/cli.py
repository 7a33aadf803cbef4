"""The command ``coach``: it parses, calls and prints.

What takes long to import is imported where it is used, so that Ctrl-C is answered from the start.
"""

from __future__ import annotations

import contextlib
import errno
import json
import shlex
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TypeVar

import click

from coach import __version__
from coach.problems import Problem, ending, written

if TYPE_CHECKING:
    from coach.flight.day import Day

F = TypeVar("F", bound=Callable[..., Any])

_GONE = (errno.EIO, errno.EPIPE)
"""What a write meets when the terminal was closed or the pipe was cut: nobody is there to tell."""

AIRPLANE = "meadow-four"
"""The airplane that is flown where none is named."""


class _Sentences(click.Group):
    """A group of commands whose problems are one sentence, never a traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command, and put what stopped it into words."""
        try:
            return super().invoke(ctx)
        except Problem as problem:
            raise click.ClickException(str(problem)) from None
        except KeyboardInterrupt:
            click.echo("Stopped.", err=True)
            ctx.exit(130)
        except OSError as error:
            if error.errno in _GONE:
                ctx.exit(1)
            raise click.ClickException(f"Stopped: {error.strerror or error}.") from None


@click.group(cls=_Sentences, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="coach")
def main() -> None:
    """Rehearse flight maneuvers aloud, at the tempo your airplane would really have.

    Start with: coach brief lazy-eight, then: coach rehearse lazy-eight.

    This trains timing and words on the ground. The airplane's own handbook, local rules and a
    licensed instructor come first.
    """


def _the_day(command: F) -> F:
    """The options that say what is flown by which airplane on which day."""
    options = (
        click.argument("maneuver"),
        click.option("--airplane", default=AIRPLANE, show_default=True, help="Name or YAML file."),
        click.option("--weight", metavar="LB", help="Such as 2300lb.  [gross weight]"),
        click.option("--altitude", metavar="FT", help="Entry altitude above sea level."),
        click.option("--ground", metavar="FT", help="Elevation of the ground.  [0 ft]"),
        click.option("--altimeter", metavar="INHG", help="Such as 29.80, or 1009hPa.  [standard]"),
        click.option("--temperature", metavar="C", help="At that altitude.  [standard day]"),
        click.option(
            "--wind", metavar="WIND", help="calm, across@15, or 240@15.  [as the script asks]"
        ),
        click.option("--heading", metavar="DEG", help="Entry heading.  [as the wind asks]"),
        click.option("--entry-speed", metavar="KT", help="Indicated.  [as the script asks]"),
        click.option(
            "--direction",
            type=click.Choice(["right", "left"]),
            help="Of the first turn.  [as usual: mostly right]",
        ),
        click.option("--loops", type=int, metavar="N", help="How many.  [the whole figure]"),
    )
    for option in reversed(options):
        command = option(command)
    return command


def _day(options: dict[str, Any]) -> Day:
    from coach.flight.day import Day

    return Day(**{name: options[name] for name in Day.__dataclass_fields__})


@main.command()
@_the_day
@click.option("--json", "as_json", is_flag=True, help="Print the brief for programs.")
@click.option("--table", type=Path, metavar="FILE.csv", help="Write the time history at 10 Hz.")
@click.option("--picture", type=Path, metavar="FILE", help="Draw it, as .png or .svg.")
def brief(
    maneuver: str,
    airplane: str,
    as_json: bool,
    table: Path | None,
    picture: Path | None,
    **options: Any,
) -> None:
    """What goes on the board: entry, checkpoints, standard, errors, cautions."""
    from rich.console import Console

    from coach.brief import board, words
    from coach.rehearsal import fly

    flight = fly(maneuver, airplane, _day(options))
    # Files first: what keeps one from being written must not scroll away above a page.
    if table is not None:
        ending(table, ".csv")
        with written(table) as part:
            part.write_text(board.history_csv(flight), encoding="utf-8")
        click.echo(f"Wrote {table}.", err=True)
    if picture is not None:
        from coach.brief.picture import draw

        draw(flight, picture)
        click.echo(f"Wrote {picture}.", err=True)
    if as_json:
        click.echo(json.dumps(board.board(flight), indent=2))
    else:
        Console(highlight=False).print(words.page(flight))


@main.command()
@_the_day
@click.option("--output", metavar="NAME", help="Sound device, or silent.  [the usual one]")
@click.option("--student", default="", metavar="NAME", help="Whose run it is, on this machine.")
def rehearse(
    maneuver: str, airplane: str, output: str | None, student: str, **options: Any
) -> None:
    """Fly it with the model in your hand: the coach speaks, the space bar taps checkpoints."""
    from rich.console import Console
    from rich.live import Live

    from coach import rehearsal
    from coach.debrief.debrief import debrief as judge
    from coach.debrief.words import screen
    from coach.logbook.logbook import Logbook
    from coach.terminal.keys import Keys
    from coach.terminal.screen import draw
    from coach.terminal.stage import caption, view

    day = _day(options)
    console = Console(highlight=False)
    with console.status("Planning, and waking the voice ..."):
        ready = rehearsal.prepare(rehearsal.fly(maneuver, airplane, day), day)
    live = Live(console=console, screen=True, auto_refresh=False)
    said = told = ""

    def show(progress: rehearsal.Progress) -> None:
        nonlocal said, told
        if console.is_terminal:
            seen = view(
                ready.flight,
                ready.sheet,
                progress.position_s,
                progress.taps_s,
                paused=progress.paused,
                finished=progress.finished,
                message=progress.message,
            )
            plain = console.options.ascii_only
            live.update(draw(seen, console.width, console.height, plain), refresh=True)
            return
        if progress.message != told:
            told = progress.message
            click.echo(told, nl=bool(told), err=True)
        if (now := caption(ready.sheet, progress.position_s)) != said:
            said = now
            click.echo(said, nl=bool(said))

    @contextlib.contextmanager
    def shell_back() -> Iterator[None]:
        shown = console.is_alt_screen
        if shown:
            console.set_alt_screen(False)
            console.show_cursor()
        yield
        if shown:
            console.set_alt_screen()
            console.show_cursor(False)

    with Logbook() as logbook:
        if logbook.note:
            click.echo(logbook.note, err=True)
        with (
            Keys(halted=shell_back) as keys,
            live if console.is_terminal else contextlib.nullcontext(),
        ):
            number = rehearsal.run(ready, keys, logbook, show, output=output, student=student)
        if number is None:
            click.echo("Stopped before the first moment: nothing to debrief.")
            return
        kept = logbook.run(number)
        console.print(screen(judge(kept, logbook.earlier(kept))))


@main.command()
@_the_day
@click.option("-o", "--file", type=Path, required=True, metavar="FILE", help=".wav or .flac")
@click.option("--captions", type=Path, metavar="FILE.vtt", help="Write the captions as WebVTT.")
def record(maneuver: str, airplane: str, file: Path, captions: Path | None, **options: Any) -> None:
    """Write the same soundtrack to a file, to take along."""
    from coach import rehearsal
    from coach.callouts.captions import webvtt
    from coach.sound.files import FORMATS, write

    ending(file, *FORMATS)
    if captions is not None:
        ending(captions, ".vtt")
    day = _day(options)
    ready = rehearsal.prepare(rehearsal.fly(maneuver, airplane, day), day)
    if ready.note:
        click.echo(ready.note, err=True)
    write(ready.soundtrack, file, title=ready.flight.maneuver.title)
    click.echo(f"Wrote {file}, {ready.soundtrack.length_s:.0f} s.", err=True)
    if captions is not None:
        with written(captions) as part:
            part.write_text(webvtt(ready.sheet), encoding="utf-8")
        click.echo(f"Wrote {captions}.", err=True)
    for sentence in ready.sheet.dropped:
        click.echo(f"Not said: {sentence}.", err=True)


@main.command()
@click.argument("number", type=int, required=False)
@click.option("--json", "as_json", is_flag=True, help="Print it for programs.")
@click.option("--picture", type=Path, metavar="FILE", help="Draw it, as .png or .svg.")
def debrief(number: int | None, as_json: bool, picture: Path | None) -> None:
    """Look at the last run again, or at run NUMBER."""
    from rich.console import Console

    from coach.debrief.debrief import debrief as judge
    from coach.debrief.words import screen
    from coach.logbook.logbook import Logbook

    with Logbook() as logbook:
        if logbook.note:
            click.echo(logbook.note, err=True)
        run = logbook.last() if number is None else logbook.run(number)
        if run is None:
            raise Problem("There is no run yet: start with coach rehearse lazy-eight.")
        judged = judge(run, logbook.earlier(run))
        if picture is not None:
            from coach.debrief.picture import draw

            draw(run, picture)
            click.echo(f"Wrote {picture}.", err=True)
        if as_json:
            click.echo(json.dumps(judged.to_dict(), indent=2))
        else:
            Console(highlight=False).print(screen(judged))


@main.command()
@click.argument("kind", type=click.Choice(["maneuver", "airplane"]))
@click.argument("file")
def new(kind: Literal["maneuver", "airplane"], file: str) -> None:
    """Begin a maneuver or an airplane of your own, as FILE.yaml or a bare name for the library."""
    from coach.authoring import begin

    click.echo(f"Wrote {begin(kind, file)}; next: coach check {shlex.quote(file)}", err=True)


@main.command()
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option("--airplane", default=AIRPLANE, show_default=True, help="Which flies a maneuver.")
@click.pass_context
def check(ctx: click.Context, files: tuple[str, ...], airplane: str) -> None:
    """Check maneuvers and airplanes, and show what an airplane's numbers lead to."""
    from rich.console import Console

    from coach.authoring import check as read
    from coach.brief.handbook import sheet
    from coach.flight.airplane import Airplane

    at_fault = False
    for file in files:
        try:
            script = read(file, airplane)
        except Problem as problem:
            at_fault = True
            click.echo(problem)
            continue
        if isinstance(script, Airplane):
            click.echo(f"{file}: an airplane, fit to fly\n")
            Console(highlight=False).print(sheet(script))
        else:
            click.echo(f"{file}: a maneuver, fit to fly")
    ctx.exit(1 if at_fault else 0)


@main.command()
@click.argument("kind", type=click.Choice(["maneuver", "airplane"]))
def schema(kind: Literal["maneuver", "airplane"]) -> None:
    """Print the JSON Schema of a script, for an editor that completes and checks as you type."""
    from coach.authoring import KINDS
    from coach.script.schema import schema as describe

    click.echo(json.dumps(describe(KINDS[kind]), indent=2))


@main.command()
def library() -> None:
    """The maneuvers and airplanes to choose from, and where your own go."""
    from coach.flight.airplane import load
    from coach.script import catalog as shelves

    for kind in ("maneuvers", "airplanes"):
        click.echo(f"{kind}:")
        for name in shelves.names(kind):
            try:
                title = (shelves.maneuver(name) if kind == "maneuvers" else load(name)).title
            except Problem as problem:  # one at fault must not hide the others
                title = f"cannot be used: {problem}"
            click.echo(f"  {name:<28}{title}")
        click.echo(f"  (your own: {shelves.folders(kind)[0]})")


if __name__ == "__main__":
    sys.exit(main())
