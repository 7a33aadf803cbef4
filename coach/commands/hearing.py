"""The coach's ears for a rehearsal."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path

from coach.commands.saying import say
from coach.ears.ears import Ears
from coach.ears.own_voice import HEADPHONES, LOUDSPEAKERS, OwnVoice
from coach.ears.source import Deaf, open_microphone
from coach.problems import Problem, can_be_written, ending
from coach.rehearsal.listening import Listening
from coach.rehearsal.ready import Rehearsal
from coach.sound.player import Player

NOT_ASKED = "Nothing is asked: name each checkpoint as you come to it."
PUSH = "Press v, then speak."


def check(
    listen: bool,
    tappers: str | None,
    microphone: str | None,
    loudspeakers: bool,
    push_to_talk: bool,
    keep_audio: Path | None,
) -> None:
    """Look at the options that have to do with hearing, before anything else is done.

    Raises:
        Problem: they do not go together, or the sound cannot be kept in that file.
    """
    if listen and tappers:
        raise Problem("--listen hears one student: leave --tappers out.")
    for option, given in {
        "--microphone": microphone,
        "--loudspeakers": loudspeakers,
        "--push-to-talk": push_to_talk,
        "--keep-audio": keep_audio,
    }.items():
        if given and not listen:
            raise Problem(f"{option} goes with --listen: give both, or neither.")
    if keep_audio is None:
        return
    ending(keep_audio, ".wav")
    if keep_audio.exists():
        raise Problem(f"--keep-audio: {keep_audio} is there already; name another file.")
    can_be_written(keep_audio)


@contextlib.contextmanager
def ears(
    ready: Rehearsal,
    microphone: str | None,
    loudspeakers: bool,
    push_to_talk: bool,
    keep_audio: Path | None,
) -> Iterator[tuple[Callable[[Player], Listening] | None, str]]:
    """What opens the ears for a run, and ""; where there is no microphone, None and one sentence.

    They are closed with the block.

    Raises:
        Problem: there is no microphone of that name, or the recogniser is not installed.
    """
    try:
        source = open_microphone(microphone)
    except Deaf as deaf:
        say(str(deaf), err=True)
        yield None, str(deaf)
        return
    greeting = LOUDSPEAKERS if loudspeakers else HEADPHONES
    say(greeting, err=True)
    if not any(cue.gap_s for cue in ready.sheet.cues):
        say(NOT_ASKED, err=True)
        greeting = NOT_ASKED
    heard: Ears | None = None
    with contextlib.ExitStack() as opened:

        def listening(player: Player) -> Listening:
            nonlocal heard
            own = OwnVoice(ready.sheet, player.position_s)

            def covered(at: float) -> bool:
                # Paused in the middle of a word, the coach is silent.
                return not player.paused and own(at)

            heard = opened.enter_context(
                Ears(source, covered=covered if loudspeakers else None, keep_audio=keep_audio)
            )
            heard.wait()
            if push_to_talk:
                heard.push_to_talk()
            # On the screen there is room for one of them: what the student must know to be heard.
            told = PUSH if push_to_talk else greeting
            return Listening(ready, heard, player, told)

        try:
            yield listening, ""
        finally:  # a run that is broken off is heard as far as it came
            opened.close()
            if heard is not None and heard.kept:
                say(heard.kept, err=True)
