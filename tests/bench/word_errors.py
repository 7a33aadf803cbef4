"""Word errors: how many words of a phrase were not heard, however they are written.

The word error rate is the least number of words replaced, left out and added, over the words that
were said (the usual definition, as NIST's scoring has it; from memory). Numbers are compared
figure by figure, words that sound alike are one, and a word may be written in two.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from coach.callouts.figures import say_number
from tests.sound.test_landing import decoder

_VALUES = {say_number(value): value for value in (*range(20), *range(20, 100, 10))}
_SIZES = {"hundred": 100, "thousand": 1000}
_STOP = "|"
_UNITS = {"kt": "knots", "kts": "knots", "ft": "feet", "deg": "degrees", "°": " degrees ",
          "%": " percent ", "&": " and "}  # fmt: skip

SPELLED = {
    "aleron": "aileron", "alerons": "ailerons", "shundell": "chandelle", "shandell": "chandelle",
    "shandel": "chandelle", "nos": "nose",
}  # fmt: skip
"""How the recogniser writes words of the trade that it has never read, where they sound right."""


@dataclass(frozen=True)
class Score:
    """The errors in one phrase, and its words: no more than all of them, for a recogniser that loses
    itself may write one word over and over."""

    errors: int
    words: int

    @property
    def rate(self) -> float:
        """Errors for each word said, 0 to 1."""
        return self.errors / max(1, self.words)


def score(said: str, heard: str) -> Score:
    """What was heard against what was said, both as text."""
    wanted, found = normalised(said), normalised(heard)
    return Score(min(errors(wanted, found), len(wanted)), len(wanted))


def normalised(text: str) -> list[str]:
    """The words of a text without case, hyphens and punctuation, its numbers figure by figure.

    "niner" is nine, "RPM" one word; "1:35", "135" and "one thirty five" are the same.
    """
    plain = text.lower().replace("r.p.m.", "rpm").replace("r p m", "rpm")
    plain = re.sub(r"(?<=\d)[,:](?=\d)", "", plain)
    plain = re.sub(r"(?<=\d)\.(?=\d)", " point ", plain)
    plain = re.sub(r"[°%&]", lambda found: _UNITS[found[0]], plain)
    plain = re.sub(r"(?<=\d)(?=[a-z])|(?<=[a-z])(?=\d)", " ", plain)
    plain = re.sub(r"[.,;:?!]", f" {_STOP} ", re.sub(r"['’]", "", plain))
    words: list[str] = []
    number: list[str] = []
    for token in [*re.sub(rf"[^a-z0-9{_STOP} ]", " ", plain).split(), _STOP]:
        token = {"niner": "nine", "oh": "zero"}.get(token, token)
        if token.isdigit() or token in _VALUES or (token in _SIZES and number):
            number.append(token)
        else:
            words += [say_number(int(figure)) for figure in _figures(number)]
            number = []
            words += [SPELLED.get(word, word) for word in (_UNITS.get(token, token),)]
    return [word for word in words if word != _STOP]


def _figures(number: Sequence[str]) -> str:
    """A number in figures: its parts side by side, but for hundreds, thousands and ones after tens."""
    whole, part = 0, ""
    tens = False
    for token in number:
        if token in _SIZES:
            whole, part = whole + int(part or 1) * _SIZES[token], ""
        elif tens and 0 < _VALUES.get(token, 0) < 10:
            part = part[:-1] + str(_VALUES[token])
        else:
            part += str(_VALUES.get(token, token))
        tens = _VALUES.get(token, 0) >= 20
    return str(whole + int(part or 0)) if whole else part


def errors(said: Sequence[str], heard: Sequence[str]) -> int:
    """The least number of words replaced, left out and added."""
    cost = np.zeros((len(said) + 1, len(heard) + 1), dtype=int)
    cost[:, 0], cost[0] = np.arange(len(said) + 1), np.arange(len(heard) + 1)
    for row in range(1, len(said) + 1):
        for at in range(1, len(heard) + 1):
            ways = [
                cost[row - 1, at] + 1,
                cost[row, at - 1] + 1,
                cost[row - 1, at - 1] + (not alike(said[row - 1], heard[at - 1])),
            ]
            if at > 1 and alike(said[row - 1], "".join(heard[at - 2 : at])):
                ways.append(cost[row - 1, at - 2])
            if row > 1 and alike("".join(said[row - 2 : row]), heard[at - 1]):
                ways.append(cost[row - 2, at - 1])
            cost[row, at] = min(ways)
    return int(cost[-1, -1])


def alike(one: str, other: str) -> bool:
    """Whether two words are the same, or sound so: "nose" and "knows"."""
    one, other = (SPELLED.get(word, word) for word in (one, other))
    return one == other or bool(_sounds(one) & _sounds(other))


@cache
def _sounds(word: str) -> frozenset[str]:
    """Every pronunciation in pocketsphinx's dictionary, which is Carnegie Mellon's."""
    ways = (word, *(f"{word}({number})" for number in range(2, 5)))
    return frozenset(found for way in ways if (found := decoder().lookup_word(way)))


def interval(scores: Sequence[Score], draws: int = 1000) -> tuple[float, float]:
    """Where the word error rate of such phrases lies in 95 of 100 draws of as many phrases."""
    each = np.array([(one.errors, one.words) for one in scores], dtype=float)
    drawn = np.random.default_rng(1).integers(len(each), size=(draws, len(each)))
    total = each[drawn].sum(axis=1)
    low, high = np.percentile(total[:, 0] / total[:, 1], (2.5, 97.5))
    return float(low), float(high)


def rate(scores: Sequence[Score]) -> float:
    """Word error rate over all phrases together."""
    return sum(one.errors for one in scores) / max(1, sum(one.words for one in scores))
