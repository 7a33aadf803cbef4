"""What Whisper writes down of a stretch of sound, in several ways.

Whisper is an encoder-decoder for speech (Radford et al. 2022, arXiv 2212.04356); CTranslate2 runs
it. Importing this raises ImportError where CTranslate2 is not installed.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import ctranslate2
import numpy as np

from coach.ears.recognisers.mel import log_mel
from coach.ears.recognisers.tokens import Tokens, text
from coach.ears.recognisers.weights import vocabulary
from coach.ears.segments import Samples

MOST = 8
"""Ways in which it is written down."""

_LONGEST = 28
"""Tokens in a transcript: what is said at a checkpoint has half as many."""

_PEAK = 0.9
_ENGLISH = ("<|en|>", "<|transcribe|>")


@dataclass(frozen=True)
class Transcript:
    """One way to write it down.

    Attributes:
        text: with figures and punctuation, as it comes.
        tokens: of how many pieces.
        log_likely: the natural logarithm of how likely Whisper finds it.
    """

    text: str
    tokens: int
    log_likely: float


class Transcriber:
    """Whisper, on one thread.

    Args:
        folder: with the weights.

    Raises:
        RuntimeError: CTranslate2 cannot read them.
    """

    def __init__(self, folder: Path) -> None:
        self._model = ctranslate2.models.Whisper(
            str(folder), device="cpu", compute_type="int8", intra_threads=1, inter_threads=1
        )
        self._tokens = Tokens(vocabulary(folder))
        speaks = _ENGLISH if self._model.is_multilingual else ()
        self._begins = ["<|startoftranscript|>", *speaks, "<|notimestamps|>"]

    def prompt(self, words: str) -> list[str]:
        """Text as if it had been heard just before, so that its words are expected."""
        return ["<|startofprev|>", *self._tokens.of(f" {words}"), *self._begins]

    def transcripts(self, samples: Samples, prompt: list[str]) -> list[Transcript]:
        """What is written down, the likeliest first.

        Args:
            samples: float32 at 16 kHz, ten seconds at most.
            prompt: from `prompt`.
        """
        loud = samples * np.float32(_PEAK / max(1e-4, float(np.abs(samples).max())))
        features = log_mel(loud, self._model.n_mels)[None]
        (found,) = self._model.generate(
            ctranslate2.StorageView.from_array(features),
            [prompt],
            beam_size=MOST,
            num_hypotheses=MOST,
            return_scores=True,
            max_length=len(prompt) + _LONGEST,
        )
        # A score is the mean over the tokens and the one that ends them.
        return [
            Transcript(text(row), len(row), score * (len(row) + 1))
            for row, score in zip(found.sequences, found.scores, strict=True)
        ]
