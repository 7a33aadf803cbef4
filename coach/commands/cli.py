"""The command ``coach``, and the one table of its commands.

What takes long to import is imported with the command that needs it, so that Ctrl-C is answered
from the start.
"""

from __future__ import annotations

import click

from coach import __version__
from coach.commands.group import Commands, load

COMMANDS = {
    "brief": "What goes on the board: entry, checkpoints, standard, errors, cautions.",
    "calibrate": "Tap along with a tone, to measure your headset's delay.",
    "check": "Check scripts, and show what an airplane's numbers lead to.",
    "debrief": "Look at the last run again, or at run NUMBER, as coach logbook numbers them.",
    "library": "Maneuvers, airplanes and warm-ups, and where your own go.",
    "listen": "Whether this microphone in this room will do: a minute of being quiet and of "
    "saying words.",
    "logbook": "Each maneuver's last run and its number, best, trend, readiness and due day.",
    "new": "Begin a maneuver or an airplane of your own.",
    "next": "What to rehearse today: the due and the shaky, then the new.",
    "outputs": "The sound devices; coach settings output=NAME chooses one.",
    "page": "Rehearse in the browser, alone; the same as coach without a command.",
    "record": "Write what is heard to a file, to take along.",
    "rehearse": "Fly it with the model in your hand: the coach speaks, the space bar taps "
    "checkpoints.",
    "room": "Lead a group: your page is screen and loudspeaker, students tap on their phones.",
    "schema": "Print the JSON Schema of a script.",
    "settings": "Show or change what is chosen on this machine.",
    "voices": "The voices; coach settings voice=NAME chooses one.",
    "warmup": "Several maneuvers in a row, as on the morning of a checkride.",
}
"""What each of them is for, as its own help begins; its module has its name."""


@click.group(
    cls=Commands,
    commands=[click.Command(name, help=purpose) for name, purpose in COMMANDS.items()],
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(__version__, prog_name="coach")
@click.pass_context
def main(ctx: click.Context) -> None:
    """Rehearse flight maneuvers aloud, at the tempo your airplane would really have.

    Without a command it opens its page in the browser. In the terminal, start with: coach brief
    lazy-eight, then: coach rehearse lazy-eight. All the maneuvers are listed by: coach library.

    This trains timing, words and hands on the ground. The airplane's own handbook, local rules
    and a licensed instructor come first.
    """
    if ctx.invoked_subcommand is None:
        ctx.invoke(load("page"))
