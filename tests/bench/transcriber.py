"""A recogniser that knows nothing of this project: it writes down whatever English it hears.

The model is the English one that lies in the wheel of moonshine-voice 0.0.49 (code and English
models under the MIT licence, by its README): an encoder of 16 kHz samples and a decoder of word
pieces. Only its files are used, with onnxruntime; the package itself is never imported.
"""

from __future__ import annotations

from functools import cached_property
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np

from coach.sound.clip import Samples

PACKAGE = "moonshine_voice"
RATE = 16_000

_BEGIN, _END = 1, 2
_PIECES_A_SECOND = 6.5  # more than anybody says; the model's own bound, from memory
_HEADS, _WIDTH = 8, 36


class Transcriber:
    """One loaded model; about 50 ms for a phrase on one processor."""

    def heard(self, sound: Samples) -> str:
        """What it takes the sound for, by always taking the likeliest next piece of a word.

        Args:
            sound: mono, 16,000 samples a second, a second or more with its silence around.
        """
        one = np.asarray(sound, np.float32)[None]
        (hidden,) = self._encoder.run(
            None, {"input_values": one, "attention_mask": np.ones(one.shape, np.int64)}
        )
        given = {
            "encoder_hidden_states": hidden,
            "encoder_attention_mask": np.ones(hidden.shape[:2], np.int64),
        }
        names = [each.name for each in self._decoder.get_outputs()]
        past = {
            each.name: np.zeros((1, _HEADS, 0, _WIDTH), np.float32)
            for each in self._decoder.get_inputs()
            if each.name.startswith("past")
        }
        pieces = [_BEGIN]
        for step in range(round(one.size / RATE * _PIECES_A_SECOND) + 8):
            more = {
                "input_ids": np.array([pieces[-1:]], np.int64),
                "use_cache_branch": np.array([step > 0]),
            }
            found = dict(zip(names, self._decoder.run(None, given | more | past), strict=True))
            for name in past:
                if step == 0 or ".encoder." not in name:  # what it made of the sound stays
                    past[name] = found[name.replace("past_key_values", "present")]
            pieces.append(int(found["logits"][0, -1].argmax()))
            if pieces[-1] == _END:
                break
        text = b"".join(self._pieces[piece] for piece in pieces[1:] if piece != _END)
        return text.decode("utf-8", "replace").replace("▁", " ").strip()

    @cached_property
    def _folder(self) -> Path:
        found = find_spec(PACKAGE)
        if found is None or found.origin is None:
            raise SystemExit("The recogniser is missing: pip install moonshine-voice==0.0.49")
        return Path(found.origin).parent / "assets" / "tiny-en"

    @cached_property
    def _encoder(self) -> Any:
        return self._model("encoder_model.ort")

    @cached_property
    def _decoder(self) -> Any:
        return self._model("decoder_model_merged.ort")

    def _model(self, name: str) -> Any:
        import onnxruntime

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        return onnxruntime.InferenceSession(str(self._folder / name), options)

    @cached_property
    def _pieces(self) -> list[bytes]:
        """Every piece of a word by its number: a length of one byte or two, then the piece."""
        raw = (self._folder / "tokenizer.bin").read_bytes()
        pieces, at = [], 0
        while at < len(raw):
            length, at = raw[at], at + 1
            if length >= 128:
                length, at = raw[at] * 128 + length - 128, at + 1
            pieces.append(raw[at : at + length])
            at += length
        return pieces
