from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.terminal.decoding import decode


@pytest.mark.parametrize(
    ("received", "names"),
    [
        (b" ", ["space"]),
        (b"P", ["p"]),
        (b"\r", ["enter"]),
        (b"\x03", ["ctrl-c"]),
        (b"\x7f", ["backspace"]),
        ("é".encode(), ["é"]),
    ],
)
def test_a_key_has_its_plain_name(received: bytes, names: list[str]) -> None:
    assert decode(received) == (names, b"")


# What terminals send: ECMA-48 control sequences; the rest as the Linux console and xterm do.
MESSAGES = [
    b"\x1b[A",  # up
    b"\x1bOB",  # down, in application mode
    b"\x1b[1;5C",  # right with a modifier
    b"\x1b[15~",  # a function key
    b"\x1b[[A",  # a function key of the Linux console
    b"\x1b[I",  # the window got the focus
    b"\x1b[12;40R",  # the answer to where the cursor is
    b"\x1b]11;rgb:1e1e/1e1e/1e1e\x1b\\",  # the answer to which background
    b"\x1bP1+r\x1b\\",  # a device control string
    b"\x1bp",  # held with Alt
]


@pytest.mark.parametrize("message", MESSAGES)
def test_arrows_function_keys_and_a_terminals_answers_are_no_presses(message: bytes) -> None:
    assert decode(b" " + message + b"p") == (["space", "p"], b"")


@given(st.lists(st.sampled_from([*MESSAGES, b" ", b"q", "ö".encode()]), max_size=6), st.data())
def test_it_does_not_matter_where_the_bytes_are_cut(
    parts: list[bytes], data: st.DataObject
) -> None:
    whole = b"".join(parts)
    cut = data.draw(st.integers(0, len(whole)))
    first, held = decode(whole[:cut])
    second, rest = decode(held + whole[cut:])
    assert (first + second, rest) == decode(whole)


def test_an_escape_alone_is_the_escape_key_once_nothing_follows() -> None:
    assert decode(b"\x1b") == ([], b"\x1b")
    assert decode(b"\x1b", complete=True) == (["escape"], b"")


@pytest.mark.parametrize("message", MESSAGES)
def test_a_message_that_breaks_off_is_dropped_whole(message: bytes) -> None:
    for cut in range(2, len(message)):
        assert decode(message[:cut], complete=True)[0] == []


@given(st.binary(max_size=40))
def test_any_bytes_at_all_come_to_an_end(received: bytes) -> None:
    names, rest = decode(received, complete=True)
    assert rest == b""
    assert len(names) <= len(received)
