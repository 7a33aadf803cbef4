"""The phone that is the airplane in a rehearsal at the terminal."""

from __future__ import annotations

import contextlib
import io
import sys
import time
from collections.abc import Iterator
from typing import TYPE_CHECKING

from rich.console import Console
from rich.text import Text

from coach.commands.saying import say
from coach.problems import Problem
from coach.rehearsal.run import FRAME_S
from coach.terminal.keys import Keys

if TYPE_CHECKING:
    from coach.page.hand.apart import Invited
    from coach.page.hand.pairing import Pairing

WITHOUT = "You fly without a phone."

CAREFUL = (
    "Sit, and clear the space around you. A phone on a model can fly off: strap it on well, and "
    "move no faster than the airplane would."
)


@contextlib.contextmanager
def phone(student: str, console: Console) -> Iterator[tuple[Pairing | None, str]]:
    """What a phone becomes that is the student's hand, once it is there or flown without, and "".

    It may join later as well, or come back. Where none can come it is None, and one sentence why.
    """
    from coach.page.hand.apart import invited  # the page's rooms, which nobody else waits for

    with contextlib.ExitStack() as while_open:
        try:
            come = while_open.enter_context(invited(student))
        except Problem as problem:
            told = f"{problem} {WITHOUT}"
            say(told, err=True)
            yield None, told
            return
        _invite(come, console)
        _wait(come.pairing, console)
        yield come.pairing, ""


def _invite(come: Invited, console: Console) -> None:
    """Say how a phone joins, with a picture of the address where the terminal can show one."""
    from coach.page.server.accepting import CAREFUL as ALONE
    from coach.page.server.accepting import STEPS, UNTRIED

    warns, *steps = STEPS
    first = f"The first time, {warns[0].lower()}{warns[1:]}"
    say(f"{first} {' '.join(steps)} {UNTRIED} {ALONE} {come.entrance.fingerprint}")
    others = come.entrance.others
    elsewhere = f" This machine is at {' and '.join(others)} as well." if others else ""
    say(
        f"Where the phone finds nothing, let port {come.entrance.port} in through this machine's "
        f"firewall, or use another network: some keep their guests apart.{elsewhere}"
    )
    say(CAREFUL)
    # Last, so that 24 lines show it whole, with what is waited for below.
    say(
        f"On your phone, in the same network, open {come.entrance.address} and enter the code "
        f"{come.pairing.code}, or point its camera at the picture."
    )
    drawn = code(come.link)
    fits = drawn.cell_len <= console.width * (drawn.plain.count("\n") + 1)
    if console.is_terminal and not console.options.ascii_only and fits:
        console.print(drawn)


def code(link: str) -> Text:
    """The QR code (ISO/IEC 18004) of an address, dark on light whatever the terminal's colours."""
    import segno

    drawn = io.StringIO()
    segno.make_qr(link).terminal(drawn, compact=True, border=4)
    return Text(drawn.getvalue().rstrip("\n"), style="bright_white on black", no_wrap=True)


def _wait(pairing: Pairing, console: Console) -> None:
    """Until Enter, which flies without a phone where none has come.

    Where no key can be pressed nothing is waited for.
    """
    if sys.stdin is None or not sys.stdin.isatty():
        return
    has_screen = console.is_terminal and not console.is_dumb_terminal
    with Keys() as keys, console.status("") as status:
        told = ""
        while True:
            for press in keys.presses():
                if press.key == "enter":
                    return
                if press.key in ("ctrl-c", "closed"):
                    raise KeyboardInterrupt
            enter = "Enter begins" if pairing.joined else "Enter flies without"
            now = f"{pairing.words}.   {enter}"
            if now != told and not has_screen:
                say(now)
            told = now
            status.update(Text(now))
            time.sleep(FRAME_S)
