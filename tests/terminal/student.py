"""A student at a real terminal: a program that reads Keys, at the far end of a pseudo-terminal."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

_TOP = Path(__file__).parents[2]

# Looks at the keys as often as a rehearsal does, and draws the screen in between.
PROGRAM = """
import sys, termios, time
from coach.terminal.keys import Keys
from coach.terminal.screen import draw
from coach.terminal.seen import Mark, View

view = View("Lazy eight", "Meadow Four", 1, 4, "left", "running", "nose falling, bank to steepest",
            8, -22, 72, 3400, "90", "the barn", 4, 7, "Keep rolling.", (Mark("90", "coming"),))

def say(*words):
    print(*words, flush=True)

def mode():
    try:
        return termios.tcgetattr(0)
    except termios.error:
        return None

def rehearse():
    with Keys() as keys:
        say("ready")
        while True:
            draw(view, 120, 40)
            for press in keys.presses():
                say(press.key, repr(press.at))
                if press.key in ("q", "ctrl-c", "closed"):
                    return
            time.sleep(1 / 15)

def hang():
    with Keys() as keys:
        say("ready")
        while keys._unread_since is None:
            time.sleep(0.01)
        say("asked")
        while True:
            time.sleep(0.01)

def stumble():
    with Keys():
        raise RuntimeError("stumbled")

before = mode()
try:
    {function}()
except BaseException as error:
    say(type(error).__name__, error)
after = mode()
say("restored" if after in (before, None) else "changed")
"""

# A program that was started in the session of a terminal has it as its own.
OWN_TERMINAL = "import fcntl, termios\nfcntl.ioctl(0, termios.TIOCSCTTY, 0)\n"


@dataclass
class Student:
    """The near end of the terminal, and what the program said."""

    hand: int
    program: subprocess.Popen[str]
    said: IO[str]

    def types(self, keys: bytes) -> None:
        os.write(self.hand, keys)

    def hears(self) -> list[str]:
        """The next line, as words; none at the end."""
        return self.said.readline().split()

    def hears_all(self) -> list[list[str]]:
        """The lines up to the program's end."""
        lines = [line.split() for line in self.said]
        self.program.wait(60)
        return lines

    def closes(self) -> None:
        os.close(self.hand)
        self.hand = -1


@contextlib.contextmanager
def at_terminal(text: str, own: bool = True) -> Iterator[Student]:
    """Start a program at a new terminal.

    Args:
        text: the program.
        own: whether the terminal is the program's own, so that it sends signals.
    """
    import pty

    hand, far = pty.openpty()
    with start((OWN_TERMINAL if own else "") + text, far) as program:
        os.close(far)
        assert program.stdout is not None
        student = Student(hand, program, program.stdout)
        try:
            yield student
        finally:
            if student.hand >= 0:
                student.closes()


@contextlib.contextmanager
def start(
    text: str, source: int | IO[bytes] | None, ignoring: str = ""
) -> Iterator[subprocess.Popen[str]]:
    """Run a program that reads from ``source``; it is killed if it is still there at the end."""
    if ignoring:
        text = f"import signal\nsignal.signal(signal.{ignoring}, signal.SIG_IGN)\n" + text
    with tempfile.TemporaryFile("w+") as complaints:
        program = subprocess.Popen(
            [sys.executable, "-c", text],
            stdin=source,
            stdout=subprocess.PIPE,
            stderr=complaints,
            text=True,
            start_new_session=True,
            env={**os.environ, "PYTHONPATH": str(_TOP)},
        )
        try:
            yield program
        finally:
            program.kill()
            program.wait()
            complaints.seek(0)
            print(complaints.read())
