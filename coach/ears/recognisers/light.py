"""The light ears: pocketsphinx with a grammar, and how sure it may be.

Importing this raises ImportError where pocketsphinx is not installed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pocketsphinx

from coach.ears.denoising import denoised
from coach.ears.grammar import Grammar
from coach.ears.recognisers.recogniser import Heard
from coach.ears.segments import MARGIN_S, RATE, Samples, Segment
from coach.ears.utterance import NOISE

_SILENCE = "<s> </s> <sil> [NOISE] (NULL)".split()
_NEVER = "Z ZH Z ZH Z ZH"
_FRAME_S = 0.01
# The model has never met digital silence, and hears nothing at all beside it.
_HISS = 0.0005
_NAT = 1024.0
"""What the recogniser counts in, as the decoder hands it on: its scores are kept in 1,024ths."""

# How well the words fit each hundredth of a second, in nats below the best of all sounds. Of the
# phrases of the tuning voices that came through in quiet, 95 of 100 lie above half sure and 98
# above `NOISE`; of unrelated speech 10 and 25.
_HALF_SURE = -7.7
_STEEP = 0.4

# What speaks for a mistake: how much better its words fit than the right ones, how well they fit at
# all, and how far the voice stands out of the noise. Chosen on the tuning voices of
# `tests/ears/speakers.py` in quiet and in four noises, where 5 of 100 right answers and 74 of 100
# wrong ones are called wrong.
_FIT = 10.0
_PER_DB = 3.0
_CLEAR_DB = 20.0
_HALF_WRONG = 15.0
_WRONG_STEEP = 10.0
_EARLY_S = 0.03
"""A first consonant may be so much softer than what stands out of the noise."""

_LOUDNESS = 0.05
_MOST_GAIN = 30.0


@dataclass(frozen=True)
class _Found:
    """The best way through a grammar, and what it scores."""

    words: str
    start_s: float
    end_s: float
    frames: int
    word_nats: float
    nats: float


class Light:
    """Knows grammars by their text, and hears with any of them."""

    def __init__(self) -> None:
        model = pocketsphinx.get_model_path
        config = pocketsphinx.Config(
            hmm=model("en-us/en-us"),
            dict=model("en-us/cmudict-en-us.dict"),
            lm=None,
            cmn="batch",
            # The second search through a lattice forgets the grammar, and takes five times as long.
            bestpath=False,
            beam=1e-80,
            wbeam=1e-60,
            pbeam=1e-80,
            # Else a grammar's scores depend on how many sounds it has, and no two compare.
            compallsen=True,
            loglevel="FATAL",
        )
        self._decoder = pocketsphinx.Decoder(config)
        self._grammars: dict[str, str] = {}

    def learn(self, grammar: Grammar) -> tuple[str, ...]:
        """See `Recogniser`; what has a word of unknown sound in it will not be recognised."""
        grammar = grammar.plain
        if grammar.jsgf in self._grammars:
            return ()
        unknown = tuple(word for word in sorted(grammar.words) if not self._pronounce(word))
        for jsgf in (grammar.jsgf, grammar.only_right.jsgf):
            self._grammars[jsgf] = f"grammar {len(self._grammars)}"
            self._decoder.add_jsgf_string(self._grammars[jsgf], jsgf)
        return unknown

    def hear(self, segment: Segment, grammar: Grammar) -> Heard | None:
        """See `Recogniser`.

        What is a mistake is sure only as far as it fits better than the likeliest right answer.
        """
        samples, grammar = segment.samples, grammar.plain
        stands_out_db = _stands_out_db(samples)
        data = self._prepared(samples)
        best = self._search(data, grammar.jsgf)
        if best is None:
            return None
        fit = best.word_nats / best.frames
        sure = _share((fit - _HALF_SURE) / _STEEP)
        if sure > NOISE:
            other = self._search(data, grammar.only_right.jsgf)
            if other is not None and other.words != best.words:
                evidence = best.nats - other.nats + _FIT * fit
                evidence += _PER_DB * min(_CLEAR_DB, stands_out_db)
                wrong = _share((evidence - _HALF_WRONG) / _WRONG_STEEP)
                sure = max(NOISE, min(sure, wrong))
        start_s = max(MARGIN_S - _EARLY_S, best.start_s)
        return Heard(best.words, start_s, max(start_s, best.end_s), sure)

    def _prepared(self, samples: Samples) -> bytes:
        """The samples at the loudness and in the form that the decoder takes."""
        samples = denoised(samples)
        loudness = float(np.sqrt(np.square(samples).mean()))
        loud = samples * min(_MOST_GAIN, _LOUDNESS / max(loudness, 1e-6))
        # The same hiss each time, so that the same sound is always heard alike.
        hissing = loud + _HISS * np.random.default_rng(0).normal(size=len(loud))
        return (np.clip(hissing, -1.0, 1.0) * 32_767).astype("<i2").tobytes()

    def _search(self, data: bytes, jsgf: str) -> _Found | None:
        decoder = self._decoder
        decoder.activate_search(self._grammars[jsgf])
        decoder.start_utt()
        decoder.process_raw(data, full_utt=True)
        decoder.end_utt()
        if decoder.hyp() is None:
            return None
        parts = [(part, math.log(part.ascore) * _NAT) for part in decoder.seg()]
        words = [(part, nats) for part, nats in parts if part.word not in _SILENCE]
        if not words:
            return None
        return _Found(
            words=" ".join(part.word.partition("(")[0] for part, _ in words),
            start_s=words[0][0].start_frame * _FRAME_S,
            end_s=(words[-1][0].end_frame + 1) * _FRAME_S,
            frames=sum(part.end_frame - part.start_frame + 1 for part, _ in words),
            word_nats=sum(nats for _, nats in words),
            nats=sum(nats for _, nats in parts),
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


def _share(odds: float) -> float:
    return 1.0 / (1.0 + math.exp(-max(-50.0, min(50.0, odds))))


def _stands_out_db(samples: Samples) -> float:
    """How far an utterance stands out of what was heard just before it, in dB."""
    margin = round(MARGIN_S * RATE)
    power = np.square(np.diff(samples), dtype=np.float64)
    before, whole = power[: margin * 7 // 8].mean(), power[margin:].mean()
    return float(10.0 * np.log10((whole + 1e-12) / (before + 1e-12)))
