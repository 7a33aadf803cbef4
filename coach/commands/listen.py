"""``coach listen``."""

from __future__ import annotations

import time

import click

from coach.ears.ears import MUTE, Deaf, Ears, open_microphone
from coach.ears.levels import Level
from coach.ears.trial import QUIET_S, SAMPLES, SPEAK_S, Sample, trial
from coach.problems import Problem


@click.command()
@click.option("--microphone", metavar="NAME", help="Which one.  [the usual one]")
def listen(microphone: str | None) -> None:
    """Whether this microphone in this room will do: a minute of being quiet and of saying words."""
    try:
        source = open_microphone(microphone)
    except Deaf as deaf:
        raise Problem(f"{deaf.said}.") from None
    with Ears(source) as heard:
        heard.wait()
        click.echo(f"{source.name} listens. Be quiet for {QUIET_S:.0f} seconds ...")
        heard.levels()
        time.sleep(QUIET_S)
        quiet = _still_there(heard, heard.levels())
        spoken: list[Level] = []
        understood = 0
        for number, line in enumerate(SAMPLES, 1):
            click.echo(f"Say ({number} of {len(SAMPLES)}): {line.words}")
            got, levels = _heard(heard, line)
            spoken += _still_there(heard, levels)
            # A microphone that takes noise away is quite silent until somebody speaks.
            if not any(level.power for level in (*quiet, *spoken)):
                raise Problem(f"{MUTE}.")
            right = line.is_understood(got)
            understood += right
            click.echo(f"  heard: {got or 'nothing'}{'' if right or not got else '  (not that)'}")
    found = trial(quiet, spoken, understood, len(SAMPLES))
    click.echo(
        f"Noise {found.floor_db:.0f} dB, your voice {found.speech_db:.0f} dB of full scale: it "
        f"stands out by {found.stands_out_db:.0f} dB."
    )
    click.echo(found.verdict)


def _still_there(ears: Ears, levels: list[Level]) -> list[Level]:
    """The levels.

    Raises:
        Problem: the microphone is gone, or gives no sound.
    """
    if ears.deaf or not levels:
        raise Problem(f"{ears.deaf or 'The microphone gives no sound'}.")
    return levels


def _heard(ears: Ears, line: Sample) -> tuple[str, list[Level]]:
    """What was understood while a line was to be said, and how loud it was."""
    number = ears.expect(line.grammar, time.perf_counter())
    until = time.perf_counter() + SPEAK_S
    while time.perf_counter() < until and not ears.deaf:
        time.sleep(0.05)
        for one in ears.utterances():
            if one.expected == number:
                return one.words, ears.levels()
    return "", ears.levels()
