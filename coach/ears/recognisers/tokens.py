"""Text in the pieces that Whisper knows, and back: byte-level byte-pair encoding.

As of GPT-2 (Radford et al. 2019; Sennrich et al. 2016), from memory. The tokens of a vocabulary
stand in the order in which they were merged, so the vocabulary alone says how. It is done here
because the library for it brings a client of a model store along, and eight more packages.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from itertools import pairwise

_PART = re.compile(r"'(?:s|t|re|ve|m|ll|d)| ?[^\W\d_]+| ?\d+| ?(?:[^\w\s]|_)+|\s+(?!\S)|\s+")
"""Nothing is merged across the borders of these."""


def _letters() -> dict[int, str]:
    """A letter that can be printed for each byte: its own one, or one from 256 on."""
    printed = [*range(33, 127), *range(161, 173), *range(174, 256)]
    others = [byte for byte in range(256) if byte not in printed]
    named = {byte: chr(256 + number) for number, byte in enumerate(others)}
    return {byte: chr(byte) for byte in printed} | named


_LETTERS = _letters()
_BYTES = {letter: byte for byte, letter in _LETTERS.items()}


class Tokens:
    """A vocabulary.

    Args:
        vocabulary: every token, in the order of their numbers.
    """

    def __init__(self, vocabulary: Sequence[str]) -> None:
        self._rank = {token: number for number, token in enumerate(vocabulary)}

    def of(self, text: str) -> list[str]:
        """A text in tokens."""
        return [token for part in _PART.findall(text) for token in self._merged(part)]

    def _merged(self, part: str) -> list[str]:
        tokens = [_LETTERS[byte] for byte in part.encode()]
        while len(tokens) > 1:
            pairs = [one + other for one, other in pairwise(tokens)]
            first = min(pairs, key=lambda pair: self._rank.get(pair, len(self._rank)))
            if first not in self._rank:
                break
            at = pairs.index(first)
            tokens[at : at + 2] = [first]
        return tokens


def text(tokens: Iterable[str]) -> str:
    """The text that tokens stand for; what is none, such as a sign of control, is left out."""
    known = (token for token in tokens if all(letter in _BYTES for letter in token))
    spoken = (token for token in known if not (token.startswith("<|") and token.endswith("|>")))
    return bytes(_BYTES[letter] for letter in "".join(spoken)).decode("utf-8", "replace")
