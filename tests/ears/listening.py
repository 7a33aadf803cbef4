"""What the recogniser makes of sound that is at hand already, faster than it would arrive."""

from __future__ import annotations

import base64
import io
import json
from collections.abc import Sequence
from functools import cache

import numpy as np

from coach.ears.grammar import Grammar
from coach.ears.segments import RATE, Samples
from coach.ears.utterance import Utterance

BLOCK = RATE // 20


@cache
def one_recogniser(*, light: bool = False) -> type:
    """The worker, which shares one recogniser among all tests: it takes long to load."""
    from coach.ears.recognisers.choice import Choice, choice
    from coach.ears.worker import Worker

    recogniser, _ = (Choice(None) if light else choice()).opened()

    class Shared(Worker):
        def __init__(self, out: io.StringIO) -> None:
            super().__init__(out, recogniser)

    return Shared


def listen(
    sound: Samples,
    expected: Sequence[tuple[float, Grammar]],
    *,
    pushes_s: Sequence[float] = (),
    light: bool = False,
) -> list[Utterance]:
    """Everything that is heard in a sound, whose first sample is at second 0.

    Args:
        sound: float32 at 16 kHz; NaN where the coach's own voice is to be left out.
        expected: what is listened for, and since when.
        pushes_s: where push-to-talk was pressed; none is hands-free.
        light: with the light ears, whatever is installed.
    """
    out = io.StringIO()
    worker = one_recogniser(light=light)(out)
    for since, grammar in expected:
        worker.take({**grammar.request, "since": since})
    if pushes_s:
        worker.take({"pushed": True})
    pushes = [*pushes_s]
    for at in range(0, len(sound), BLOCK):
        if pushes and pushes[0] <= at / RATE:
            pushes.pop(0)
            worker.take({"push": True})
        block = sound[at : at + BLOCK]
        if np.isnan(block).all():
            worker.take({"at": at / RATE, "covered": len(block)})
            continue
        coarse = (np.clip(block, -1.0, 1.0) * 32_767.0).astype("<i2")
        worker.take({"at": at / RATE, "sound": base64.b64encode(coarse.tobytes()).decode()})
    found = [json.loads(line) for line in out.getvalue().splitlines()]
    return [Utterance(**message) for message in found if "words" in message]
