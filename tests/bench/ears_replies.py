"""How many answers get a reply: ``python -m tests.bench.ears_replies``.

A whole asking-mode lazy eight, heard from samples. When each answer is understood is reckoned from
the moment its end is certain and the processor time it takes from there, as on a machine that has
nothing else to do; the run looks for it once a frame.
"""

from __future__ import annotations

import base64
import io
import json
import statistics
import time
from collections.abc import Iterator

import numpy as np

from coach.callouts.cuesheet import Cue
from coach.ears.segments import RATE, Samples
from coach.ears.utterance import Utterance
from coach.rehearsal.run import FRAME_S
from tests.ears.listening import BLOCK, one_recogniser
from tests.ears.room import Room, rehearsal
from tests.ears.speakers import FORMANT, OWN_ALIKE, RECORDED
from tests.ears.students import MISTAKES, SILENT, Rehearsed, lazy_eight, student

THINK_S = (0.6, 1.0)


def arrivals(sound: Samples, rehearsed: Rehearsed) -> Iterator[tuple[float, Utterance]]:
    """Each utterance, all times in the sound, and when it is understood."""
    out = io.StringIO()
    worker = one_recogniser()(out)
    for since, grammar in rehearsed.expected():
        worker.take({**grammar.request, "since": since})
    free_s = 0.0
    for at in range(0, len(sound), BLOCK):
        coarse = (np.clip(sound[at : at + BLOCK], -1.0, 1.0) * 32_767.0).astype("<i2")
        message = {"at": at / RATE, "sound": base64.b64encode(coarse.tobytes()).decode()}
        out.seek(0)
        out.truncate()
        began = time.process_time()
        worker.take(message)
        free_s = max(free_s, (at + BLOCK) / RATE) + time.process_time() - began
        for line in out.getvalue().splitlines():
            yield free_s, Utterance(**json.loads(line))


def replied(rehearsed: Rehearsed, voice: str, words_per_minute: int, think_s: float) -> str:
    """Who got a reply, and how soon."""
    sound = student(rehearsed, voice, words_per_minute, think_s=think_s)
    events: list[tuple[float, Utterance | None]] = [
        (place.from_s + FRAME_S / 2, None) for place in rehearsed.passages.passages
    ]
    events += [(at + FRAME_S / 2, one) for at, one in arrivals(sound, rehearsed)]
    room = Room(rehearsal(rehearsed), 0.0)
    said_s: list[float] = []
    waits_s: list[float] = []
    for at, one in sorted(events, key=lambda event: event[0]):
        room.player.put(at)
        if one is not None:
            start, end = (time.perf_counter() + moment - at for moment in (one.start_s, one.end_s))
            room.mouth.said.append(Utterance(one.words, start, end, one.expected, one.sure))
            waits_s.append(at - one.end_s)
        count = len(room.player.said)
        room.listening.follow()
        said_s += [at] * (len(room.player.said) - count)
    shares = []
    for mistaken in (False, True):
        asked = [cue for cue in questions(rehearsed) if words(rehearsed, cue) != SILENT]
        asked = [cue for cue in asked if (words(rehearsed, cue) is not None) == mistaken]
        got = sum(any(cue.end_s < at < cue.end_s + 8.0 for at in said_s) for cue in asked)
        shares.append(f"{got} of {len(asked)} {'wrong' if mistaken else 'right'}")
    left_out = len(room.player.left_out)
    return (
        f"{voice}, {think_s:g} s to think: replied to {', '.join(shares)}, {left_out} of them in "
        f"place of the coach's own answer; understood {statistics.median(waits_s):.2f} s after the "
        f"last word (median), {max(waits_s):.2f} s at most"
    )


def questions(rehearsed: Rehearsed) -> list[Cue]:
    """What the coach asks."""
    return [cue for cue in rehearsed.sheet.cues if cue.gap_s]


def words(rehearsed: Rehearsed, question: Cue) -> str | None:
    """What is said in place of the right answer; None where that is given."""
    moment = rehearsed.flight.moments[question.moment or 0]
    return MISTAKES.get((moment.loop, moment.name))


def main() -> None:
    """Four voices that nothing was tuned on."""
    rehearsed = lazy_eight()
    for voice, rate in (*FORMANT[:2], RECORDED[1], OWN_ALIKE[0]):
        for think_s in THINK_S:
            print(replied(rehearsed, voice, rate, think_s), flush=True)


if __name__ == "__main__":
    main()
