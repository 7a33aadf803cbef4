"""What people and rooms may be called, and secrets that nobody guesses."""

from __future__ import annotations

import secrets
import unicodedata

from coach.problems import Problem

LONGEST = 24
"""Letters of a name, so that a list of many can be read."""


CODE_DIGITS = 6


def new_code() -> str:
    """A joining code, digits that anybody can type."""
    return "".join(secrets.choice("0123456789") for _ in range(CODE_DIGITS))


def new_secret() -> str:
    """A key or a token that nobody guesses."""
    return secrets.token_urlsafe(24)


def tidy(name: str, what: str) -> str:
    """A name as plain text on one line.

    Raises:
        Problem: nothing is left of it, or it is too long.
    """
    plain = "".join(_visible(one) for one in unicodedata.normalize("NFC", name))
    tidied = " ".join(plain.split())
    if not tidied:
        raise Problem(f"{what} is empty: give a first name or a nickname.")
    if len(tidied) > LONGEST:
        raise Problem(f"{what} is too long: {LONGEST} letters at most.")
    return tidied


def same(one: str, other: str) -> bool:
    """Whether two names would be taken for one."""
    first, second = (unicodedata.normalize("NFKC", name).casefold() for name in (one, other))
    return first == second


def _visible(letter: str) -> str:
    # Control, format (such as one that turns the writing's direction) and unassigned characters.
    return " " if letter.isspace() else "" if unicodedata.category(letter)[0] == "C" else letter
