"""``coach rehearse``."""

from __future__ import annotations

from contextlib import ExitStack, nullcontext
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from coach.commands import hearing, joining, live, logbooks, options, printing
from coach.problems import Problem
from coach.rehearsal.ready import Preparation, fly, support_for
from coach.sound.outputs import playing
from coach.taps import pressing

_FIRST_RUN = "Press the space bar at each checkpoint, when you think you are there."


@click.command()
@click.argument("maneuver")
@options.the_airplane_and_day
@options.the_way_it_is_heard
@click.option("--output", metavar="NAME", help="See coach outputs.  [as in the settings]")
@click.option(
    "--student",
    default="",
    callback=logbooks.somebody,
    metavar="NAME",
    help="Whose run it is, on this machine.",
)
@click.option("--tappers", metavar="KEYS", help='A group at one keyboard: "Ada=a, Bo=l".')
@click.option("--listen", is_flag=True, help="Hear what you say; see coach listen.")
@click.option("--microphone", metavar="NAME", help="Which one listens.  [the usual one]")
@click.option(
    "--loudspeakers", is_flag=True, help="The coach is heard in the room, not in the ear."
)
@click.option("--push-to-talk", is_flag=True, help="Listen only from one press of v to the next.")
@click.option("--keep-audio", type=Path, metavar="FILE.wav", help="Keep what was heard.")
@click.option("--hand", is_flag=True, help="A phone is the airplane in your hand.")
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
    hand: bool,
    **given: Any,
) -> None:
    """Fly it with the model in your hand: the coach speaks, the space bar taps checkpoints.

    Where the coach asks for a number, say it aloud, or type it in tens: 3 is 30 degrees of bank, 11
    is 110 knots. p pauses, r starts over, q stops; with --listen "coach pause", "coach go on",
    "coach start over" and "coach stop" do the same. Maneuvers are listed by coach library.
    """
    if tappers and student:
        raise Problem("--tappers names every student of the group: leave --student out.")
    if tappers and hand:
        raise Problem("--hand is one student's: leave --tappers out.")
    hearing.check(listen, tappers, microphone, loudspeakers, push_to_talk, keep_audio)
    day, settings = options.day(given), options.settings(given)
    students = pressing.tappers(tappers) if tappers else {pressing.ALONE: student}
    console = printing.console()
    output = output or settings.output or None
    with logbooks.opened(to_fly=True) as logbook, ExitStack() as until_over:
        with console.status("Planning, and waking the voice ..."):
            preparation = until_over.enter_context(Preparation(settings))
            preparation.wake()
            # Who is heard waits for the ears, and for all that they may expect.
            player = None if listen else until_over.enter_context(playing(output))
            flight = fly(maneuver, airplane, day)
            support, why = support_for(settings, logbook, flight.maneuver.maneuver, student)
            make = preparation.whole if listen else preparation.opening
            ready = make(flight, day, support=support, pace=given["pace"])
            if not tappers and student not in logbook.students():
                why = _FIRST_RUN
            ready = replace(ready, note=ready.note or why)
        phone, alone = until_over.enter_context(
            joining.phone(student, console) if hand else nullcontext((None, ""))
        )
        with (
            hearing.ears(ready, microphone, loudspeakers, push_to_talk, keep_audio)
            if listen
            else nullcontext((None, ""))
        ) as (hears, deaf):
            done = live.fly(
                replace(ready, note=deaf or alone or ready.note),
                logbook,
                console,
                output=output,
                player=player,
                students=students,
                listen=hears,
                hand=phone,
            )
        live.tell(done, logbook, console)
