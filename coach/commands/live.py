"""A rehearsal at the terminal: the screen, the keys, and the debrief afterwards."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Mapping

from rich.console import Console
from rich.live import Live

from coach import settings
from coach.commands.saying import say
from coach.logbook.logbook import Logbook
from coach.rehearsal.listening import Listening
from coach.rehearsal.progress import Done, Progress
from coach.rehearsal.ready import Rehearsal
from coach.rehearsal.run import run
from coach.rehearsal.steering import Moved
from coach.sound.player import Player
from coach.terminal.keys import Keys
from coach.terminal.screen import draw
from coach.terminal.stage import caption, view


def fly(
    ready: Rehearsal,
    logbook: Logbook,
    console: Console,
    *,
    output: str | None,
    students: Mapping[str, str],
    player: Player | None = None,
    listen: Callable[[Player], Listening] | None = None,
    hand: Moved | None = None,
) -> Done:
    """Run a rehearsal with the terminal's keys, drawing its screen; captions where there is none.

    Args:
        ready: as for `coach.rehearsal.run.run`.
        logbook: where the run is kept.
        console: the terminal.
        output: the sound device, or None for the usual one.
        students: each one's name by key.
        player: as for `coach.rehearsal.run.run`.
        listen: as for `coach.rehearsal.run.run`.
        hand: as for `coach.rehearsal.run.run`.
    """
    live = Live(console=console, screen=True, auto_refresh=False)
    # A terminal that cannot move its cursor (TERM=dumb) is written to line by line, as a file is.
    has_screen = console.is_terminal and not console.is_dumb_terminal
    if console.is_terminal and not has_screen:
        say(f"{' or '.join(students)} taps, p pauses, r starts over, q stops.")
    said = told = ""

    def show(progress: Progress) -> None:
        nonlocal said, told
        if has_screen:
            seen = view(
                ready.flight,
                progress.sheet,
                progress.position_s,
                progress.taps,
                progress.unheard,
                progress.hand,
                paused=progress.paused,
                finished=progress.finished,
                message=progress.message,
            )
            plain = console.options.ascii_only
            live.update(draw(seen, console.width, console.height, plain), refresh=True)
            return
        if progress.message != told:
            told = progress.message
            if told:
                say(told, err=True)
        if (now := caption(progress.sheet, progress.position_s)) != said:
            said = now
            if said:
                say(said)

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

    with (
        Keys(halted=shell_back) as keys,
        live if has_screen else contextlib.nullcontext(),
    ):
        done = run(
            ready,
            keys,
            logbook,
            show,
            output=output,
            player=player,
            students=students,
            listen=listen,
            hand=hand,
            tone_deg=settings.load().hand_tone_deg,
        )
    if done.note:
        say(done.note, err=True)
    return done


def tell(done: Done, logbook: Logbook, console: Console) -> None:
    """Print the debrief, or of several students what they need to compare theirs."""
    # Imported here: not to be waited for before the first sound.
    from coach.debrief.debrief import debrief
    from coach.debrief.together import together
    from coach.debrief.words import screen

    if not done.numbers:
        say("Stopped before the first checkpoint: nothing of it is kept.")
    runs = [logbook.run(number) for number in done.numbers]
    debriefs = [debrief(run, logbook.earlier(run)) for run in runs]
    if len(debriefs) > 1:
        console.print(together(debriefs, kept=not logbook.unkept))
    for one in debriefs if len(debriefs) == 1 else ():
        console.print(screen(one))
