from __future__ import annotations

import contextlib
import itertools
import os
import random
import signal
import statistics
import subprocess
import sys
import textwrap
import threading
import time

import pytest

from coach.taps.pressing import ALONE, REPEAT_S, Hands
from coach.terminal.keys import Keys
from tests.terminal.student import PROGRAM, Student, at_terminal, start

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="Windows has no pseudo-terminal to test with"
)
REHEARSE, HANG, STUMBLE = (
    PROGRAM.replace("{function}", function) for function in ("rehearse", "hang", "stumble")
)

# Also puts the screen on the terminal, as a rehearsal does.
DRAWING = "import os\nfrom rich.console import Console\n" + REHEARSE.replace(
    "draw(view, 120, 40)",
    "Console(file=os.fdopen(os.dup(0), 'w'), width=120).print(draw(view, 120, 40))",
)

# Ends by itself, should nobody be left to end it.
BURN = "import time\nend = time.time() + 30.0\nwhile time.time() < end: pass"


def lateness(program: str, count: int) -> list[float]:
    """Thousandths of a second by which a program at a terminal stamps keys too late.

    The sender may be held up while it sends, so the time goes from when the key was surely sent.
    """
    chance = random.Random(4)
    late = []
    with at_terminal(program) as student:
        shown = threading.Thread(target=_watch, args=(student.hand,), daemon=True)
        shown.start()
        assert student.hears() == ["ready"]
        for _ in range(count):
            time.sleep(chance.uniform(0.02, 0.08))
            sent = time.perf_counter()
            student.types(b" ")
            surely_sent = time.perf_counter()
            name, at = student.hears()
            # Both processes read the same clock: time.perf_counter is the system's monotonic clock.
            assert name == "space" and float(at) >= sent
            late.append(1000 * max(0.0, float(at) - surely_sent))
        student.types(b"q")
        student.hears_all()
        shown.join(5)
    return late


def _watch(terminal: int) -> None:
    """Look at the screen, as a terminal that nobody looks at stops the program."""
    with contextlib.suppress(OSError):
        while os.read(terminal, 65536):
            pass


def prompt(late: list[float]) -> bool:
    """Whether keys are stamped when they arrive, by their median and their upper quartile.

    In the screen's loop these would be 33 and 50 ms. The worst is up to what else the machine does.
    """
    _, middle, upper = statistics.quantiles(late, n=4)
    print(f"stamped late by {middle:.2f} ms (median), {upper:.2f} ms (upper quartile)")
    return middle < 12 and upper < 30


def test_a_key_is_stamped_when_it_arrives_not_when_the_screen_looks() -> None:
    assert prompt(lateness(REHEARSE, 80))


def test_a_key_is_stamped_as_well_while_the_screen_is_drawn_and_every_processor_is_busy() -> None:
    burners = [
        subprocess.Popen([sys.executable, "-c", BURN]) for _ in range(max(2, os.cpu_count() or 2))
    ]
    try:
        late = lateness(DRAWING, 60)
    finally:
        for burner in burners:
            burner.kill()
            burner.wait()
    assert prompt(late)


def test_a_key_held_down_at_a_terminal_is_one_tap_among_others() -> None:
    hands = Hands({ALONE: ""})
    sent: list[float] = []

    def press(student: Student) -> None:
        sent.append(time.perf_counter())
        student.types(b" ")

    with at_terminal(REHEARSE) as student:
        student.hears()
        for pause_s, repeats, period_s in [(0.3, 0, 0.0), (0.4, 20, 0.033), (0.9, 8, 0.05)]:
            time.sleep(pause_s)
            press(student)
            time.sleep(0.5)
            for _ in range(repeats):
                press(student)
                time.sleep(period_s)
        student.types(b"q")
        presses = student.hears_all()[:-2]
    assert len(presses) == 31
    times = [float(at) for _, at in presses]
    trains = itertools.pairwise(times[2:22]), itertools.pairwise(times[23:])
    first_waits = times[2] - times[1], times[23] - times[22]
    uneven = any(after - before > REPEAT_S for train in trains for before, after in train)
    late = max(at - when for at, when in zip(times, sent, strict=True))
    if uneven or max(first_waits) > 1.0 or late > REPEAT_S:
        pytest.skip("this machine is too busy to hold a key down evenly")
    for name, at in presses:
        assert hands.press(name, float(at))
    found = [tap.at for tap in hands.taken(times[-1] + 10.0)]
    assert found == [times[0], times[1], times[22]]


def test_keys_typed_together_arrive_in_order_and_an_arrow_is_no_press() -> None:
    with at_terminal(REHEARSE) as student:
        student.hears()
        student.types(b" \x1b[Ap\x1b[Bq")
        assert [line[0] for line in student.hears_all()] == ["space", "p", "q", "restored"]


def test_the_escape_key_alone_is_told_from_an_arrow() -> None:
    with at_terminal(REHEARSE) as student:
        student.hears()
        student.types(b"\x1b")
        assert student.hears()[0] == "escape"


def test_ctrl_s_does_not_freeze_the_screen() -> None:
    with at_terminal(REHEARSE) as student:
        student.hears()
        student.types(b"\x13q")
        assert [line[0] for line in student.hears_all()] == ["ctrl-s", "q", "restored"]


def test_nothing_typed_is_echoed() -> None:
    with at_terminal(REHEARSE) as student:
        student.hears()
        student.types(b"xq")
        student.hears_all()
        os.set_blocking(student.hand, False)
        with pytest.raises(OSError):
            print(os.read(student.hand, 100))


def test_ctrl_c_is_a_press_and_the_terminal_is_restored() -> None:
    with at_terminal(REHEARSE) as student:
        student.hears()
        student.types(b"\x03")
        assert [line[0] for line in student.hears_all()] == ["ctrl-c", "restored"]


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP"])
def test_being_told_to_end_is_a_press_and_the_terminal_is_restored(name: str) -> None:
    with at_terminal(REHEARSE) as student:
        student.hears()
        student.program.send_signal(getattr(signal, name))
        assert [line[0] for line in student.hears_all()] == ["closed", "restored"]


@pytest.mark.parametrize(
    ("name", "error"),
    [("SIGINT", ["KeyboardInterrupt"]), ("SIGTERM", ["SystemExit", "143"])],
)
def test_a_program_that_hangs_can_still_be_ended(name: str, error: list[str]) -> None:
    with at_terminal(HANG) as student:
        student.hears()
        student.program.send_signal(getattr(signal, name))
        assert student.hears() == ["asked"]
        time.sleep(1.1)  # longer than a request may lie unread
        student.program.send_signal(getattr(signal, name))
        assert student.hears_all() == [error, ["restored"]]


def test_an_error_in_the_block_restores_the_terminal() -> None:
    with at_terminal(STUMBLE) as student:
        assert student.hears_all() == [["RuntimeError", "stumbled"], ["restored"]]


@pytest.mark.parametrize("own", [True, False])
def test_closing_the_terminal_is_a_press(own: bool) -> None:
    with at_terminal(REHEARSE, own=own) as student:
        student.hears()
        student.closes()
        assert student.hears_all()[0][0] == "closed"


def test_keys_from_a_pipe_are_presses_and_its_end_is_none() -> None:
    with start(REHEARSE, subprocess.PIPE) as program:
        assert program.stdin is not None
        assert program.stdout is not None
        program.stdin.write(" p\n")
        program.stdin.close()
        heard = [program.stdout.readline().split()[0] for _ in range(4)]
        assert heard == ["ready", "space", "p", "enter"]
        time.sleep(0.3)
        program.send_signal(signal.SIGINT)  # which is told from a pipe that is called closed
        assert program.stdout.readline().split()[0] == "ctrl-c"


@pytest.mark.parametrize("closed", [False, True])
def test_without_input_there_are_no_presses_and_the_program_goes_on(closed: bool) -> None:
    text = REHEARSE
    if closed:
        text = "import sys\nsys.stdin = None\n" + text
    with start(text, subprocess.DEVNULL) as program:
        assert program.stdout is not None
        assert program.stdout.readline() == "ready\n"
        time.sleep(0.3)
        assert program.poll() is None
        program.send_signal(signal.SIGINT)
        assert program.stdout.readline().split()[0] == "ctrl-c"


def test_a_signal_that_was_ignored_stays_ignored() -> None:
    with start(REHEARSE, subprocess.DEVNULL, ignoring="SIGHUP") as program:
        assert program.stdout is not None
        program.stdout.readline()
        # Of two that are there together the first one is handled first.
        program.send_signal(signal.SIGHUP)
        program.send_signal(signal.SIGINT)
        assert program.stdout.readline().split()[0] == "ctrl-c"


def test_ctrl_z_stops_with_the_terminal_restored_and_continues_with_the_keys() -> None:
    # What a shell does: the program in a process group of its own, in front of the terminal.
    shell = """
    import os, signal, subprocess, sys, termios
    signal.signal(signal.SIGTTOU, signal.SIG_IGN)
    before = termios.tcgetattr(0)
    program = subprocess.Popen([sys.executable, "-c", PROGRAM], process_group=0)
    os.tcsetpgrp(0, program.pid)
    _, status = os.waitpid(program.pid, os.WUNTRACED)
    print("stopped" if os.WIFSTOPPED(status) else "ended", flush=True)
    print("restored" if termios.tcgetattr(0) == before else "changed", flush=True)
    os.kill(program.pid, signal.SIGCONT)
    program.wait()
    """
    if sys.version_info < (3, 11):
        pytest.skip("needs subprocess's process_group, from Python 3.11")
    text = f"PROGRAM = {REHEARSE!r}\n" + textwrap.dedent(shell)
    with at_terminal(text) as student:
        assert student.hears() == ["ready"]
        while os.tcgetpgrp(student.hand) == student.program.pid:  # until it is put in front
            time.sleep(0.01)
        student.types(b"\x1a")
        assert student.hears() == ["stopped"]
        assert student.hears() == ["restored"]
        assert student.hears()[0] == "ctrl-z"
        student.types(b" ")
        assert student.hears()[0] == "space"


def test_the_same_keys_can_be_used_again() -> None:
    far, hand = os.pipe()
    keys = Keys(far)
    for _ in range(2):
        with keys:
            os.write(hand, b" ")
            found = keys.presses()
            while not found:
                time.sleep(0.001)
                found = keys.presses()
        assert [press.key for press in found] == ["space"]
        assert keys.presses() == []
    os.close(hand)
    os.close(far)
