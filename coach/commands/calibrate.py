"""``coach calibrate``."""

from __future__ import annotations

from datetime import datetime

import click
from rich.text import Text

from coach.commands import logbooks, printing
from coach.commands.saying import say
from coach.logbook.calibration import Calibration
from coach.rehearsal.calibration import calibrate as tap_along
from coach.settings import load
from coach.terminal.keys import Keys


@click.command()
@click.option("--output", metavar="NAME", help="See coach outputs.  [as in the settings]")
@click.option(
    "--student", default="", callback=logbooks.somebody, metavar="NAME", help="Whose hand it is."
)
def calibrate(output: str | None, student: str) -> None:
    """Tap along with a tone, to measure your headset's delay."""
    console = printing.console()
    with logbooks.opened() as book, Keys() as keys, console.status("") as status:
        say("Press the space bar together with each tone, as if you played it. q stops.")

        def show(sounded: int, tones: int, note: str) -> None:
            status.update(Text(f"tone {sounded} of {tones}  {note}"))

        found = tap_along(keys, show, output=output or load().output or None)
        if found is None:
            say("Stopped: nothing was kept.")
            return
        offset, device = found
        say(offset.sentence)
        if offset.offset_s is None or offset.low_s is None or offset.high_s is None:
            return
        now = datetime.now().astimezone()
        book.calibrate(
            Calibration(student, device, offset.offset_s, offset.low_s, offset.high_s, now)
        )
        say(f"From now on it is taken off every tap{_of(student)} on {device}.")


def _of(student: str) -> str:
    return f" of {student}" if student else ""
