"""From sound to words: pocketsphinx with a grammar, and how sure it may be.

Importing this raises ImportError where pocketsphinx is not installed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pocketsphinx

from coach.ears.segments import RATE, Samples

_SILENT = "<sil> [NOISE] (NULL)".split()
_FRAME_S = 0.01
_PADDING_S = 0.2
# The model has never met digital silence, and hears nothing at all beside it.
_HISS = 0.0005
_LOUDNESS = 0.05


@dataclass(frozen=True)
class Heard:
    """The words in a stretch of sound.

    Attributes:
        words: in lower case.
        start_s: when the first word begins, from the first sample.
        end_s: when the last one ends.
        sure: from 0 to 1.
    """

    words: str
    start_s: float
    end_s: float
    sure: float


class Recogniser:
    """Knows grammars by their text, and hears with any of them."""

    def __init__(self) -> None:
        model = pocketsphinx.get_model_path
        config = pocketsphinx.Config(
            hmm=model("en-us/en-us"),
            dict=model("en-us/cmudict-en-us.dict"),
            lm=None,
            cmn="batch",
            loglevel="FATAL",
        )
        self._decoder = pocketsphinx.Decoder(config)
        self._decoder.add_allphone_file("sounds", model("en-us/en-us-phone.lm.bin"))
        self._grammars: dict[str, str] = {}
        self._hiss = np.random.default_rng(0)

    def learn(self, jsgf: str, words: frozenset[str]) -> tuple[str, ...]:
        """Take in a grammar.

        Args:
            jsgf: the grammar.
            words: every word in it.

        Returns:
            Words whose sound is unknown; what has them in it will not be recognised.
        """
        unknown = tuple(word for word in sorted(words) if not self._pronounce(word))
        self._grammars[jsgf] = f"grammar {len(self._grammars)}"
        self._decoder.add_jsgf_string(self._grammars[jsgf], jsgf)
        return unknown

    def hear(self, samples: Samples, jsgf: str) -> Heard | None:
        """The likeliest sentence of a grammar; None where none of them fits at all.

        Args:
            samples: float32 at `RATE`.
            jsgf: a grammar that was learnt.
        """
        padded = np.pad(samples, round(_PADDING_S * RATE))
        loud = float(np.sqrt(np.square(samples).mean()))
        padded = padded * min(10.0, _LOUDNESS / max(loud, 1e-6))
        padded = padded + _HISS * self._hiss.normal(size=len(padded))
        data = (np.clip(padded, -1.0, 1.0) * 32_767).astype("<i2").tobytes()
        spoken = self._decode(self._grammars[jsgf], data)
        words = [part for part in spoken if part[0] not in _SILENT]
        if not words:
            return None
        ratio = self._score(spoken) - self._score(self._decode("sounds", data))
        frames = sum(end - start + 1 for _, start, end, _ in words)
        return Heard(
            " ".join(word.partition("(")[0] for word, *_ in words),
            words[0][1] * _FRAME_S - _PADDING_S,
            (words[-1][2] + 1) * _FRAME_S - _PADDING_S,
            ratio / frames,
        )

    def _decode(self, search: str, data: bytes) -> list[_Part]:
        """The likeliest words, or single sounds, with their scores."""
        self._decoder.activate_search(search)
        self._decoder.start_utt()
        self._decoder.process_raw(data, full_utt=True)
        self._decoder.end_utt()
        if self._decoder.hyp() is None:
            return []
        return [
            _Part(one.word, one.start_frame, one.end_frame, math.log(max(one.ascore, 1e-300)))
            for one in self._decoder.seg()
        ]

    def _pronounce(self, word: str) -> bool:
        """Whether the dictionary has the word, if need be put together from two of its words."""
        if self._decoder.lookup_word(word):
            return True
        for cut in range(len(word) - 2, 0, -1):
            first, second = self._sounds(word[:cut]), self._sounds(word[cut:])
            if first and second:
                ways = [f"{one} {other}" for one in first for other in second]
                for number, way in enumerate(ways, 1):
                    name = word if number == 1 else f"{word}({number})"
                    self._decoder.add_word(name, way, True)
                return True
        self._decoder.add_word(word, _NEVER, True)
        return False

    def _sounds(self, word: str) -> list[str]:
        found = (self._decoder.lookup_word(one) for one in (word, f"{word}(2)"))
        return [one for one in found if one]
