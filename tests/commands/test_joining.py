"""A phone that is the airplane at the terminal: it comes in, and what keeps it out keeps nobody back."""

from __future__ import annotations

import asyncio
import re
import ssl
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import segno
from rich.console import Console

from coach.commands.joining import CAREFUL, WITHOUT, code
from coach.page.server.reach import addresses
from coach.problems import Problem
from tests.page.people import PATIENT_S, Person
from tests.terminal.student import Student, at_terminal

pytest.importorskip("pty", reason="no pseudo-terminals here")

KITE, QUICK_TURN = (
    str(Path(__file__).parents[1] / name) for name in ("kite.yaml", "quick-turn.yaml")
)
NO_NETWORK = """
from coach.page.server import reach
reach._ways = list
"""
JOIN = """
from coach.commands.joining import phone
from coach.commands.printing import console
with phone("Ada", console()) as (pairing, told):
    print("flies", pairing is not None and pairing.joined, told, flush=True)
    input()
print("landed")
"""
REHEARSE = f"""
import sys
from coach.__main__ import main
sys.argv = ["coach", "rehearse", {QUICK_TURN!r}, "--airplane", {KITE!r}, "--hand"]
main()
"""


@contextmanager
def waiting(program: str) -> Iterator[tuple[Student, Callable[[str], str]]]:
    """Somebody at the terminal, and what waits for a line that holds something."""
    with at_terminal(program) as student:

        def until(wanted: str) -> str:
            for line in student.said:
                if re.search(wanted, line):
                    return line
            raise AssertionError(f"It ended without {wanted}.")

        yield student, until


@pytest.fixture
def network() -> None:
    try:
        addresses()
    except Problem as problem:
        pytest.skip(str(problem))


@pytest.mark.usefixtures("network")
def test_a_phone_comes_in_by_the_code_and_enter_begins(home: Path) -> None:
    with waiting(JOIN) as (student, until):
        told = until("The first time")
        assert re.search(r"([0-9A-F]{2}:){31}[0-9A-F]{2}$", told)
        assert "has not been tried on an iPhone or an Android phone" in told
        until(re.escape(CAREFUL))
        found = re.search(r"open https://(\S+) and enter the code (\d{6})", until("On your phone"))
        assert found
        until("No phone has joined yet.*Enter flies without")

        async def comes() -> None:
            secure = ssl.create_default_context(cafile=home / "certificate.pem")
            first = {"type": "come", "code": found[2], "phone": "a phone"}
            async with Person(found[1], "/ws/hand", first, secure=secure) as phone:
                await phone.until("welcome")
                await asyncio.to_thread(until, "Enter begins")
                student.types(b"\r")
                await asyncio.to_thread(until, "flies True")
                assert phone.closed is None
                student.types(b"\r")
                assert "is over" in (await phone.until("refused"))["why"]
                await phone.until_closed()

        asyncio.run(asyncio.wait_for(comes(), 3 * PATIENT_S))
        until("landed")
        assert student.program.wait(PATIENT_S) == 0


@pytest.mark.usefixtures("network")
def test_enter_flies_without_a_phone(home: Path) -> None:
    with waiting(JOIN) as (student, until):
        until("Enter flies without")
        student.types(b"\r")
        until("flies False")


@pytest.mark.usefixtures("network")
def test_who_leaves_while_a_phone_is_waited_for_leaves(home: Path) -> None:
    with waiting(JOIN) as (student, until):
        until("Enter flies without")
        student.types(b"\x03")
        assert student.program.wait(PATIENT_S) != 0
        assert "flies" not in student.said.read()


def test_in_no_network_one_sentence_says_so_and_the_rehearsal_goes_on(
    home: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    with waiting(NO_NETWORK + REHEARSE) as (student, until):
        until("Quick turn")  # the coach speaks
        student.types(b"q")
        assert student.program.wait(PATIENT_S) == 0
    complaints = capfd.readouterr().out
    assert f"join a network. {WITHOUT}" in complaints
    assert "Traceback" not in complaints


def test_the_picture_of_the_address_is_dark_on_light_whatever_the_terminals_colours() -> None:
    link = "https://192.168.1.5:8643/hand#123456"
    drawn = code(link)
    modules = [list(row) for row in segno.make_qr(link).matrix_iter(border=4)]
    lines = drawn.plain.split("\n")
    for y, row in enumerate(modules):
        for x, dark in enumerate(row):
            letter = lines[y // 2][x]
            light = letter in ("█▀" if y % 2 == 0 else "█▄")
            assert light != bool(dark), (x, y)
    console = Console(force_terminal=True, color_system="truecolor", width=80)
    with console.capture() as shown:
        console.print(drawn)
    assert "\x1b[97;40m" in shown.get()
