"""What people and rooms may be called, and secrets that nobody guesses."""

from __future__ import annotations

import functools
import hmac
import secrets
import unicodedata

from coach import words

LONGEST = 24
"""Letters of a name, so that a list of many can be read."""

CODE_DIGITS = 6


def new_code() -> str:
    """A joining code, digits that anybody can type."""
    return "".join(secrets.choice("0123456789") for _ in range(CODE_DIGITS))


def new_secret() -> str:
    """A key or a token that nobody guesses."""
    return secrets.token_urlsafe(24)


def matches(given: str, secret: str) -> bool:
    """Whether somebody gave a secret; how long the answer takes tells nothing of it."""
    return hmac.compare_digest(*(one.encode("utf-8", "replace") for one in (given, secret)))


def tidy(name: str, what: str) -> str:
    """A name as plain text on one line.

    Raises:
        Problem: nothing is left of it, or it is too long.
    """
    return words.name(name, what, LONGEST)


def same(one: str, other: str) -> bool:
    """Whether two names would be taken for one, by their letters or by how these look."""
    return not _looks(one).isdisjoint(_looks(other))


@functools.lru_cache(maxsize=4096)
def _looks(name: str) -> frozenset[str]:
    """What is left of a name where letters that look alike are one, as written and in small ones.

    Unicode Technical Standard 39, section 4, of single letters: l and I may be one as they are
    written, and i and I as small ones.
    """
    alike = _alike()
    plain = unicodedata.normalize("NFKC", name)
    return frozenset(
        unicodedata.normalize("NFD", written).translate(alike)
        for written in (plain, plain.casefold())
    )


@functools.cache
def _alike() -> dict[int, str]:
    """For each letter that looks like others, the first of them all."""
    from confusable_homoglyphs.confusables import confusables_data

    # Who looks like a letter is told with marks that keep the writing's direction.
    near: dict[str, set[str]] = {}
    for letter, likes in confusables_data.items():
        singles = {like["c"].strip("\u200e") for like in likes}
        near[letter.strip("\u200e")] = {letter, *(one for one in singles if len(one) == 1)}
    # All stand for one of them, so whoever is not next to it is next but one.
    return {
        ord(letter): min(set().union(*(near.get(one, {one}) for one in likes)))
        for letter, likes in near.items()
        if len(letter) == 1
    }
