"""A room out of a null sink, and in again through its monitor as the microphone."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.signal import resample_poly

from coach.callouts.cuesheet import CueSheet
from coach.ears.ears import Ears
from coach.ears.grammar import Grammar
from coach.ears.own_voice import OwnVoice
from coach.ears.segments import Samples
from coach.ears.source import open_microphone
from coach.ears.utterance import Utterance
from coach.sound.outputs import open_player
from tests.sound.null_sink import private_server
from tests.sound.tape import Tape

HEARD_OUT_S = 3.0


def beside_a_server(module: str, *words: str) -> None:
    """Run a module again where it has a sound server of its own, whose only input is its output."""
    with private_server() as sink:
        environment = {**sink.environment, "PULSE_SOURCE": "rehearsal_room.monitor"}
        command = [sys.executable, "-m", module, *words]
        subprocess.run(command, env=environment, check=True)


def through_the_device(
    sound: Samples, expected: Sequence[tuple[float, Grammar]], covered: CueSheet | None = None
) -> tuple[list[Utterance], str]:
    """What is heard of a sound, each with its time in the sound; it takes its own time.

    Args:
        sound: float32 at 16 kHz.
        expected: what is listened for, and since when.
        covered: what the coach says, where it is to be left out.

    Returns:
        The utterances, and what the ears had to say.
    """
    quiet = np.zeros(round(HEARD_OUT_S * 48_000), np.float32)
    tape = Tape(np.concatenate([np.asarray(resample_poly(sound, 3, 1), np.float32), quiet]))
    heard: list[Utterance] = []
    numbers = 0
    with open_player(tape) as player:
        own = OwnVoice(covered, player.position_s) if covered is not None else None
        with Ears(open_microphone(), covered=own) as ears:
            ears.wait()
            player.start()
            while not player.finished:
                now = time.perf_counter()
                while numbers < len(expected) and expected[numbers][0] <= player.position_s(now):
                    ears.expect(expected[numbers][1], now - 0.1)
                    numbers += 1
                heard += [
                    replace(one, start_s=player.position_s(one.start_s))
                    for one in ears.utterances()
                ]
                time.sleep(1.0 / 15.0)
            return heard, ears.note
