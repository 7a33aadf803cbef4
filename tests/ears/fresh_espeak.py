"""Speak TEXT with VOICE at WORDS a minute, the same way each time: raw samples to standard output."""

from __future__ import annotations

import ctypes
import sys

import espeakng_loader

spoken: list[bytes] = []


def hear(samples: ctypes._Pointer[ctypes.c_short], count: int, _events: int) -> int:
    """What espeak-ng calls with every piece of sound."""
    if samples and count:
        spoken.append(ctypes.string_at(samples, 2 * count))
    return 0


callback = ctypes.CFUNCTYPE(
    ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p
)(hear)

text, voice, words_per_minute = sys.argv[1:]
library = ctypes.CDLL(espeakng_loader.get_library_path())
library.espeak_Initialize(2, 0, espeakng_loader.get_data_path().encode(), 0)
library.espeak_ng_SetRandSeed(1)
library.espeak_SetSynthCallback(callback)
if library.espeak_SetVoiceByName(voice.encode()):
    sys.exit(f"espeak-ng has no voice {voice}")
library.espeak_SetParameter(1, int(words_per_minute), 0)
words = text.encode()
library.espeak_Synth(words, len(words) + 1, 0, 1, 0, 1, None, None)
library.espeak_Synchronize()
sys.stdout.buffer.write(b"".join(spoken))
