"""What a terminal sends, as names of keys."""

from __future__ import annotations

import codecs
import re

# Whole messages of a terminal: arrows and function keys (ECMA-48 control sequences, the SS3 forms
# and the Linux console's own), strings it answers with, and keys held with Alt. None is a key of
# ours.
_SEQUENCE = re.compile(
    rb"\x1b(?:\[\[[ -~]|\[[0-?]*[ -/]*[@-Z\\-~]|O[ -~]|[]P^_X][^\x07\x1b]*(?:\x07|\x1b\\)"
    rb"|[ -NQ-WYZ`\\a-~])"
)
_BEGUN = re.compile(rb"\x1b(?:\[\[?|\[[0-?]*[ -/]*|O|[]P^_X][^\x07\x1b]*\x1b?)?\Z")
_NAMES = {" ": "space", "\r": "enter", "\n": "enter", "\t": "tab", "\x1b": "escape"}
_NAMES |= {"\x7f": "backspace", "\x08": "backspace"}


def decode(received: bytes, complete: bool = False) -> tuple[list[str], bytes]:
    """The keys in what a terminal sent, and the bytes that may be the beginning of one.

    Arrows, function keys and the like are left out whole. Letters are lower case.

    Args:
        received: bytes, in UTF-8.
        complete: nothing follows soon, so an escape stands for its own key and a message that has
            begun is dropped.

    Returns:
        Names such as ``"space"``, ``"p"``, ``"enter"``, ``"escape"``, ``"ctrl-c"``; and the rest.
    """
    names: list[str] = []
    while received:
        if sequence := _SEQUENCE.match(received):
            received = received[sequence.end() :]
            continue
        if _BEGUN.match(received):
            if not complete:
                return names, received
            return [*names, "escape"] if received == b"\x1b" else names, b""
        end = received.find(b"\x1b", 1)
        text, rest = received[: end if end > 0 else None], received[end:] if end > 0 else b""
        reader = codecs.getincrementaldecoder("utf-8")("ignore")
        names += [_named(sign) for sign in reader.decode(text, final=complete or bool(rest))]
        held, _ = reader.getstate()
        if held:
            return names, held
        received = rest
    return names, b""


def _named(sign: str) -> str:
    if sign in _NAMES:
        return _NAMES[sign]
    return f"ctrl-{chr(ord(sign) + 96)}" if sign < " " else sign.lower()
