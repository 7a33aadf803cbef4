"""The voice at work, in a process of its own: ``python -m coach.sound.worker``.

Reads one JSON object from stdin: ``texts`` (list), ``folder`` (where to write), ``voice`` (an id or
a name, or null) and ``words_per_minute``. Writes ``0``, ``1``, ... into the folder, one sound file
a text, and on stdout one JSON object a line: ``{"spoken": 0}`` as each file is whole, or
``{"unknown_voice": [names]}``, or ``{"problem": "sentence"}``.

A voice can hang or take its whole process down, which is why it never runs inside the coach.
"""

from __future__ import annotations

import ctypes
import json
import os
import sys
import time
from pathlib import Path
from typing import Any, TextIO


def _own_stdout() -> TextIO:
    """The real stdout for us alone; what a driver prints goes nowhere."""
    ours = os.fdopen(os.dup(1), "w", encoding="utf-8")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    return ours


def _lend_espeak() -> None:
    """Put the library from the espeakng-loader wheel where pyttsx3's espeak driver will find it.

    A library already loaded is found by its name, so no system package is needed.
    """
    import espeakng_loader

    ctypes.CDLL(espeakng_loader.get_library_path(), mode=ctypes.RTLD_GLOBAL)
    os.environ["ESPEAK_DATA_PATH"] = espeakng_loader.get_data_path()


def _choose(engine: Any, wanted: str | None) -> str | None:
    """The id of the wanted voice; of an English one where nothing is wanted; None if unknown."""
    voices = engine.getProperty("voices")
    if wanted is not None:
        for voice in voices:
            if wanted.lower() in (voice.id.lower(), voice.name.lower()):
                return str(voice.id)
        return None
    usual = engine.getProperty("voice")
    english = [v.id for v in voices if any(str(s).lower().startswith("en") for s in v.languages)]
    return str(usual) if usual in english or not english else str(english[0])


def _let_espeak_finish() -> None:
    """Wait until espeak's own thread rests.

    Its driver cancels a text that is begun while that thread is still busy with a setting or with
    the end of the text before, and the phrase is then empty or missing.
    """
    from pyttsx3.drivers import _espeak

    while _espeak.IsPlaying():
        time.sleep(0.001)


def main() -> None:
    """Speak one batch and leave."""
    out = _own_stdout()

    def tell(**message: object) -> None:
        print(json.dumps(message), file=out, flush=True)

    task = json.load(sys.stdin)
    try:
        if sys.platform == "linux":
            _lend_espeak()
        import pyttsx3

        engine = pyttsx3.init()
        voice = _choose(engine, task["voice"])
        if voice is None:
            tell(unknown_voice=[v.name for v in engine.getProperty("voices")])
            return
        engine.setProperty("voice", voice)
        engine.setProperty("rate", task["words_per_minute"])
        # The espeak driver keeps only the last text of a queue, so each is run by itself; the
        # others take a queue, and may hang when run a second time.
        one_by_one = "espeak" in str(engine)
        for number, text in enumerate(task["texts"]):
            engine.save_to_file(text, str(Path(task["folder"], str(number))))
            if one_by_one:
                _let_espeak_finish()
                engine.runAndWait()
                tell(spoken=number)
        if not one_by_one:
            engine.runAndWait()
            for number in range(len(task["texts"])):
                tell(spoken=number)
    except Exception as error:
        # Drivers raise whatever they like; the coach goes on with captions and says why.
        tell(problem=f"the voice said {type(error).__name__}: {' '.join(str(error).split())}")


if __name__ == "__main__":
    main()
    # Some drivers crash while Python takes them apart; there is nothing left to do anyway.
    os._exit(0)
