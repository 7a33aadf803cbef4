"""Whether this microphone in this room will do: the figures, the words, and a plain verdict."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from coach.ears.grammar import Grammar, answer
from coach.ears.levels import Level
from coach.flight.moment import Moment
from coach.script.asked import ASKED, Asked

QUIET_S = 5.0
"""How long the student is quiet at first, for the noise floor."""

SPEAK_S = 5.0
"""How long there is for each of the words."""

NEEDED = 7
"""So many of the eight must be understood."""

CLEAR_DB = 20.0
"""So far a voice must stand out of other people's talk (`python -m tests.bench.ears`)."""

FAINT_DB = -50.0
CLIPPED = 0.99

STILL = Moment(
    loop=1,
    name="",
    time_s=0.0,
    turned_deg=0.0,
    heading_deg=0.0,
    pitch_deg=0.0,
    bank_deg=0.0,
    ias_kt=80.0,
    altitude_ft=0.0,
    turn_rate_dps=0.0,
    load_factor=1.0,
    stall_margin_kt=0.0,
    rudder=0.0,
)
"""A checkpoint of no flight, at which any number may be asked for."""


@dataclass(frozen=True)
class Sample:
    """Words to be said.

    Attributes:
        words: for the student to say.
        quantity: which number it is.
        value: what is to be understood.
    """

    words: str
    quantity: Asked
    value: float

    @property
    def grammar(self) -> Grammar:
        """What is listened for, as if a checkpoint asked for that number."""
        at: dict[str, Any] = {ASKED[self.quantity].field: self.value}
        asking = replace(STILL, **at, asks=(self.quantity,))
        return answer((asking, *(replace(STILL, ias_kt=speed) for speed in (50.0, 110.0))), 0)

    def is_understood(self, words: str) -> bool:
        """Whether words mean what was to be said."""
        said = self.grammar.parse(words)
        return said is not None and said.values.get(self.quantity) == self.value


SAMPLES = (
    Sample("bank thirty", "bank", 30.0),
    Sample("sixty five knots", "speed", 65.0),
    Sample("thirty two hundred feet", "altitude", 3200.0),
    Sample("pitch ten above level", "pitch", 10.0),
    Sample("heading zero niner zero", "heading", 90.0),
    Sample("fifteen degrees of bank", "bank", 15.0),
    Sample("airspeed one oh two", "speed", 102.0),
    Sample("nose up seven", "pitch", 7.0),
)
"""In the coach's own words and in pilots'."""


@dataclass(frozen=True)
class Trial:
    """What a minute's listening found.

    Attributes:
        floor_db: the noise, in dB of full scale.
        speech_db: the voice, in dB of full scale.
        clipped: whether the voice was too loud for the microphone.
        understood: how many samples were.
        asked: how many were to be said.
    """

    floor_db: float
    speech_db: float
    clipped: bool
    understood: int
    asked: int

    @property
    def stands_out_db(self) -> float:
        """How far the voice stands out of the noise, in dB."""
        return self.speech_db - self.floor_db

    @property
    def will_do(self) -> bool:
        """Whether a rehearsal can listen here."""
        return self.understood >= NEEDED * self.asked / len(SAMPLES)

    @property
    def verdict(self) -> str:
        """One sentence, with what to do where it will not do."""
        count = f"{self.understood} of {self.asked} understood"
        if self.will_do:
            return f"This microphone will do in this room: {count}."
        if self.clipped:
            return f"It will not do yet: {count}; you are too loud for it, turn its level down."
        if self.speech_db < FAINT_DB:
            return f"It will not do yet: {count}; you are faint, come nearer or turn its level up."
        if self.stands_out_db < CLEAR_DB:
            return f"It will not do yet: {count}; it is noisy here, come nearer or push to talk."
        return f"It will not do: {count}; speak plainly, or tap instead."


def trial(quiet: Sequence[Level], spoken: Sequence[Level], understood: int, asked: int) -> Trial:
    """The figures of a trial.

    Args:
        quiet: levels while the student was silent; at least one.
        spoken: levels while the student spoke; at least one.
        understood: how many samples were.
        asked: how many were to be said.
    """
    return Trial(
        floor_db=_db(statistics.median(level.power for level in quiet)),
        speech_db=loudness_db(spoken),
        clipped=any(level.peak >= CLIPPED for level in spoken),
        understood=understood,
        asked=asked,
    )


def loudness_db(levels: Sequence[Level]) -> float:
    """How loud a voice is, in dB of full scale, from levels while it spoke; at least one."""
    # The louder fifth of the time is voice; the rest is pauses and waiting.
    powers = sorted(level.power for level in levels)
    return _db(statistics.fmean(powers[-max(1, len(powers) // 5) :]))


def _db(power: float) -> float:
    return 10.0 * math.log10(power + 1e-12)
