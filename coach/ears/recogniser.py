"""From sound to words: pocketsphinx with a grammar, and how sure it may be.

Importing this raises ImportError where pocketsphinx is not installed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pocketsphinx

from coach.ears.denoising import denoised
from coach.ears.segments import Samples

_SILENCE = "<s> </s> <sil> [NOISE] (NULL)".split()
_NEVER = "Z ZH Z ZH Z ZH"
_FRAME_S = 0.01
# The model has never met digital silence, and hears nothing at all beside it.
_HISS = 0.0005
# How well the words fit each hundredth of a second, in the recogniser's own measure: a logarithm of
# how much less likely they are than the best of all sounds. Chosen on the tuning voices of
# `tests/ears/speakers.py` in quiet: 89 of 100 phrases that came through lie above half sure and 98
# above `NOISE`; of unrelated speech none and 8.
_HALF_SURE = -4.0
_STEEP = 0.72
_LOUDNESS = 0.05
_MOST_GAIN = 30.0


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
        self._grammars: dict[str, str] = {}
        self._hiss = np.random.default_rng(0)

    def learn(self, jsgf: str, words: frozenset[str]) -> tuple[str, ...]:
        """Take in a grammar.

        Args:
            jsgf: the grammar.
            words: every word in it.

        Returns:
            Words whose sound is unknown, the first time that the grammar comes; what has them in it
            will not be recognised.
        """
        if jsgf in self._grammars:
            return ()
        unknown = tuple(word for word in sorted(words) if not self._pronounce(word))
        self._grammars[jsgf] = f"grammar {len(self._grammars)}"
        self._decoder.add_jsgf_string(self._grammars[jsgf], jsgf)
        return unknown

    def hear(self, samples: Samples, jsgf: str) -> Heard | None:
        """The likeliest sentence of a grammar; None where none of them fits at all.

        Args:
            samples: float32 at 16 kHz, with as much room before the speech as `Segmenter` leaves.
            jsgf: a grammar that was learnt.
        """
        samples = denoised(samples)
        loudness = float(np.sqrt(np.square(samples).mean()))
        loud = samples * min(_MOST_GAIN, _LOUDNESS / max(loudness, 1e-6))
        hissing = loud + _HISS * self._hiss.normal(size=len(loud))
        data = (np.clip(hissing, -1.0, 1.0) * 32_767).astype("<i2").tobytes()
        self._decoder.activate_search(self._grammars[jsgf])
        self._decoder.start_utt()
        self._decoder.process_raw(data, full_utt=True)
        self._decoder.end_utt()
        if self._decoder.hyp() is None:
            return None
        words = [part for part in self._decoder.seg() if part.word not in _SILENCE]
        if not words:
            return None
        fits = sum(math.log(max(part.ascore, 1e-300)) for part in words)
        frames = sum(part.end_frame - part.start_frame + 1 for part in words)
        return Heard(
            words=" ".join(part.word.partition("(")[0] for part in words),
            start_s=words[0].start_frame * _FRAME_S,
            end_s=(words[-1].end_frame + 1) * _FRAME_S,
            sure=1.0 / (1.0 + math.exp((_HALF_SURE - fits / frames) / _STEEP)),
        )

    def _pronounce(self, word: str) -> bool:
        """Whether the dictionary has the word, if need be put together from two of its words."""
        if self._sounds(word):
            return True
        ways = [
            f"{one} {other}"
            for cut in range(1, len(word) - 1)
            for one in self._sounds(word[:cut])
            for other in self._sounds(word[cut:])
        ]
        for number, way in enumerate(ways, 1):
            self._decoder.add_word(word if number == 1 else f"{word}({number})", way, True)
        if ways:
            return True
        self._decoder.add_word(word, _NEVER, True)
        return False

    def _sounds(self, word: str) -> list[str]:
        found = (self._decoder.lookup_word(one) for one in (word, f"{word}(2)"))
        return [one for one in found if one]
