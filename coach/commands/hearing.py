"""``coach listen``, and the coach's ears for a rehearsal."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from coach.problems import Problem

if TYPE_CHECKING:
    from coach.ears.ears import Ears, Level
    from coach.ears.trial import Line
    from coach.listening import Listening
    from coach.rehearsal import Rehearsal
    from coach.sound.player import Player


@contextlib.contextmanager
def ears(
    ready: Rehearsal,
    microphone: str | None,
    loudspeakers: bool,
    push_to_talk: bool,
    keep_audio: Path | None,
) -> Iterator[Callable[[Player], Listening] | None]:
    """What opens the ears for a run; None, and one sentence, where there is no microphone.

    They are closed with the block.
    """
    from coach.ears.ears import Ears, open_microphone
    from coach.ears.own_voice import HEADPHONES, LOUDSPEAKERS, OwnVoice
    from coach.listening import Listening

    try:
        source = open_microphone(microphone)
    except Problem as problem:
        click.echo(problem, err=True)
        yield None
        return
    click.echo(LOUDSPEAKERS if loudspeakers else HEADPHONES, err=True)
    with contextlib.ExitStack() as opened:

        def listening(player: Player) -> Listening:
            covered = OwnVoice(ready.sheet, player.position_s) if loudspeakers else None
            heard = opened.enter_context(Ears(source, covered=covered, keep_audio=keep_audio))
            heard.wait()
            if push_to_talk:
                heard.push_to_talk()
            return Listening(ready.flight, ready.sheet, heard, player)

        yield listening


@click.command()
@click.option("--microphone", metavar="NAME", help="Which one.  [the usual one]")
def listen(microphone: str | None) -> None:
    """Whether this microphone in this room will do: a minute of being quiet and of saying words."""
    from coach.ears.ears import Ears, open_microphone
    from coach.ears.trial import LINES, QUIET_S, trial

    with Ears(open_microphone(microphone)) as heard:
        heard.wait()
        click.echo(f"Be quiet for {QUIET_S:.0f} seconds ...")
        heard.levels()
        time.sleep(QUIET_S)
        quiet = heard.levels()
        spoken: list[Level] = []
        understood = 0
        for line in LINES:
            click.echo(f"Say: {line.words}")
            got, levels = _heard(heard, line)
            spoken += levels
            right = line.is_understood(got)
            understood += right
            click.echo(f"  heard: {got or 'nothing'}{'' if right else '  (not that)'}")
        if not (quiet and spoken):
            raise Problem(heard.note or "The microphone gives no sound.")
        found = trial(quiet, spoken, understood, len(LINES))
    click.echo(
        f"Noise {found.floor_db:.0f} dB, your voice {found.speech_db:.0f} dB of full scale: it "
        f"stands out by {found.stands_out_db:.0f} dB."
    )
    click.echo(found.verdict)


def _heard(ears: Ears, line: Line) -> tuple[str, list[Level]]:
    """What was understood while a line was to be said, and how loud it was."""
    from coach.ears.trial import SPEAK_S

    number = ears.expect(line.grammar, time.perf_counter())
    until = time.perf_counter() + SPEAK_S
    while time.perf_counter() < until:
        time.sleep(0.05)
        for one in ears.utterances():
            if one.expected == number:
                return one.words, ears.levels()
    return "", ears.levels()
