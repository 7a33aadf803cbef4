"""The recogniser at work, in a process of its own.

Reads one JSON object a line from stdin:

- ``{"weights": folder}``, the first of all: where the user's own weights lie, or "";
- ``{"grammar": text, "since": seconds}``: what is listened for from then on, as `Grammar.to_json`;
- ``{"at": seconds, "sound": base64}``: the next samples, 16 bits at 16 kHz, and when the first one
  reached the microphone;
- ``{"at": seconds, "covered": count}``: so many samples that are not to be heard;
- ``{"fitting": fields}``: how far a voice must stand out, a `Fitting`;
- ``{"pushed": true}``: from now on utterances begin and end with ``{"push": true}`` only;
- ``{"until": seconds}``: tell once everything is understood that was begun by then.

Writes on stdout, one JSON object a line: ``{"ready": text}`` once, which says what hears and where
it is from, or ``{"refused": sentence}`` where nothing can; ``{"unknown": [words]}`` for words that
it will not recognise, ``{"until": seconds}`` as asked for, and for each utterance ``{"words",
"start_s", "end_s", "expected", "sure", "whole", "stands_out_db"}``, where "words" is empty where
none fit, and "expected" is the number of the grammar, counting from 0. All times are the caller's
own. Nothing else leaves this process, and it writes no file.

A recogniser takes a second to load and half a processor while somebody speaks, and may take its
process down, which is why it never runs inside the coach.
"""

from __future__ import annotations

import base64
import json
import sys
from bisect import bisect_right
from typing import Any, TextIO

import numpy as np

from coach.ears.fitting import Fitting
from coach.ears.grammar import Grammar
from coach.ears.recognisers.choice import choice
from coach.ears.recognisers.recogniser import Heard, Recogniser
from coach.ears.segments import MARGIN_S, NOTICED_S, RATE, Samples, Segment, Segmenter
from coach.ears.voice import detector
from coach.problems import Problem
from coach.sound.worker import own_stdout


class Worker:
    """What has been heard so far, and what is listened for.

    Args:
        out: where its lines go.
        recogniser: what understands.
    """

    def __init__(self, out: TextIO, recogniser: Recogniser) -> None:
        self._out = out
        self._recogniser = recogniser
        self._pushed = False
        self._fitting = Fitting()
        self._is_voice = detector()
        self._segmenter = Segmenter(is_voice=self._is_voice)
        self._count = 0
        self._times: list[tuple[int, float]] = []
        self._grammars: list[tuple[float, Grammar]] = []
        self._until: float | None = None
        self._last: tuple[int, int, int] | None = None
        self._heard: Heard | None = None

    def take(self, message: dict[str, Any]) -> None:
        """Act on one message."""
        if "grammar" in message:
            self._expect(message)
        elif "at" in message:
            sound = _sound(message)
            self._times = [*self._times[-1000:], (self._count, message["at"])]
            self._count += len(sound)
            for part in self._segmenter.feed(sound):
                self._hear(part)
            if self._until is not None and self._is_over(self._until):
                self.tell(until=self._until)
                self._until = None
        elif "until" in message:
            # The last one may overtake one that was asked for on its way.
            self._until = max(message["until"], self._until or 0.0)
        elif "pushed" in message or "fitting" in message:
            self._pushed = self._pushed or "pushed" in message
            self._fitting = Fitting(**message["fitting"]) if "fitting" in message else self._fitting
            self._segmenter = Segmenter(
                pushed=self._pushed, fitting=self._fitting, is_voice=self._is_voice
            )
            self._count = 0
        elif "push" in message and (ended := self._segmenter.push()):
            self._hear(ended)

    def tell(self, **message: object) -> None:
        """Write one line."""
        print(json.dumps(message), file=self._out, flush=True)

    def _is_over(self, until: float) -> bool:
        known = self._time(self._count) - NOTICED_S
        return known > until and not self._segmenter.is_within

    def _expect(self, message: dict[str, Any]) -> None:
        grammar = Grammar.from_json(message["grammar"])
        if unknown := self._recogniser.learn(grammar):
            self.tell(unknown=unknown)
        self._grammars.append((message["since"], grammar))

    def _hear(self, segment: Segment) -> None:
        start = self._time(segment.start)
        begun = [since <= start + MARGIN_S for since, _ in self._grammars]
        if True not in begun:
            return
        expected = len(begun) - 1 - begun[::-1].index(True)
        # Understood at its last pause already, where that was its end.
        this = (segment.start, len(segment.samples), expected)
        if this != self._last:
            self._heard = self._recogniser.hear(segment, self._grammars[expected][1])
            self._last = this
        # Where nothing fits, something was said all the same.
        speech_s = len(segment.samples) / RATE - MARGIN_S
        heard = self._heard or Heard("", MARGIN_S, max(MARGIN_S, speech_s), 0.0)
        if segment.over:
            self.tell(
                words=heard.words,
                start_s=start + heard.start_s,
                end_s=start + heard.end_s,
                expected=expected,
                sure=heard.sure,
                whole=segment.whole,
                stands_out_db=round(segment.stands_out_db, 1),
            )

    def _time(self, sample: int) -> float:
        first, at = self._times[max(0, bisect_right(self._times, (sample, np.inf)) - 1)]
        return float(at + (sample - first) / RATE)


def _sound(message: dict[str, Any]) -> Samples:
    if "covered" in message:
        return np.full(message["covered"], np.nan, np.float32)
    coarse = np.frombuffer(base64.b64decode(message["sound"]), "<i2")
    return np.asarray(coarse / np.float32(32_768), dtype=np.float32)


def main() -> None:
    """Listen until stdin ends."""
    out = own_stdout()
    first = json.loads(sys.stdin.readline() or "{}")
    try:
        recogniser, told = choice(first.get("weights", "")).opened()
    except Problem as problem:
        print(json.dumps({"refused": str(problem)}), file=out, flush=True)
        return
    worker = Worker(out, recogniser)
    worker.tell(ready=told)
    for line in sys.stdin:
        worker.take(json.loads(line))


if __name__ == "__main__":
    main()
