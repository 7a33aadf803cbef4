"""The bed: the airplane as sound, quiet under the voice.

Every part of it is a loop, read faster or slower and made louder or softer as the airplane flies.
How fast and how loud is settled beforehand at knots 50 ms apart and is a straight line between
them, so any sample can be had by itself: its place in the loop is the integral of that line.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from coach.callouts.cuesheet import CueSheet
from coach.problems import Problem, nearest
from coach.sound import loops
from coach.sound.clip import RATE, Floats, Samples

PEAKS: Mapping[str, float] = MappingProxyType(
    {"airflow": 0.05, "engine": 0.014, "balance": 0.02, "flutter": 0.026}
)
"""True peak of each part at its full level and its strongest; together within `BED_TRUE_PEAK`."""

LEVELS: Mapping[str, float] = MappingProxyType(dict.fromkeys((*PEAKS, "ticks"), 1.0))
"""The parts of the airplane that are heard and the ticks, each at its full level."""

DUCK_DB = 8.0
"""How much softer the bed is while the coach speaks."""

STEP = RATE // 20
"""Frames from one knot to the next."""

_STEP_S = STEP / RATE
_DUCK_BEFORE_S, _DUCK_AFTER_S = 0.25, 0.8
_FADE_IN_S, _FADE_OUT_S = 3.0, 1.5
_EVEN_S = 0.5  # a lever is not moved in an instant, and an engine does not follow it in one

_LOUDEST_KT = 140.0  # as loud as the airflow gets
_LOOP_KT = 100.0  # at this speed the airflow is its loop as it is
_IDLE_RPM, _RATED_RPM = 900.0, 2700.0
_BALANCE_HZ = 523.25 / 4.0  # two octaves below the start tone, which is heard over it
_LEAST_RUDDER = 0.1
_FLUTTER_KT = 10.0


@dataclass(frozen=True, eq=False)
class _Part:
    """One loop and how it is read; arrays with one row for each knot.

    Attributes:
        loop: its name in `coach.sound.loops`.
        turns: where in the loop, in loops, 0 to 1.
        hz: loops a second.
        gain: left and right, shape (knots, 2).
    """

    loop: str
    turns: Floats
    hz: Floats
    gain: Samples

    def heard(self, knot: npt.NDArray[np.intp], share: Floats) -> Samples | None:
        """The part at these frames, shape (n, 2), or None where it is silent throughout.

        Args:
            knot: the last knot before each frame, increasing.
            share: how far each frame is on its way to the next knot, 0 to 1.
        """
        if not self.gain[knot[0] : knot[-1] + 2].any():
            return None
        hz, gain = self.hz[knot], self.gain[knot]
        hz += 0.5 * share * (self.hz[knot + 1] - hz)
        gain += share.astype(np.float32)[:, None] * (self.gain[knot + 1] - gain)
        gain *= loops.read(self.loop, self.turns[knot] + _STEP_S * share * hz)
        return gain


@dataclass(frozen=True, eq=False)
class Bed:
    """The airplane along one soundtrack.

    Attributes:
        parts: those that are switched on.
    """

    parts: tuple[_Part, ...]

    def frames(self, start: int, count: int) -> Samples:
        """What is heard from frame ``start`` on, shape (count, 2), for one frame or more."""
        out = np.zeros((count, 2), dtype=np.float32)
        knot, frame = np.divmod(np.arange(start, start + count), STEP)
        for part in self.parts:
            heard = part.heard(knot, frame / STEP)
            if heard is not None:
                out += heard
        return out


def checked(levels: Mapping[str, float]) -> dict[str, float]:
    """The level of every part; one that is not named has its full level.

    Raises:
        Problem: an unknown part, or a level outside 0 to 1.
    """
    for part, level in levels.items():
        if part not in LEVELS:
            raise Problem(f"The airplane has no sound called {part}{nearest(part, LEVELS)}")
        if not 0.0 <= level <= 1.0:
            raise Problem(f"The level of {part} is {level:g}, expected 0 (off) to 1.")
    return {**LEVELS, **levels}


def bed(
    sheet: CueSheet,
    speech: Iterable[tuple[float, float]],
    levels: Mapping[str, float],
    length_s: float,
) -> Bed:
    """What the airplane sounds like in one rehearsal.

    Airflow: what presses on the ear grows with dynamic pressure, speed squared, and its eddies pass
    by as fast as the air, so that the whole spectrum moves up with speed (the physics of turbulent
    flow; common practice, no source). Engine: a four-cylinder four-stroke on a fixed-pitch
    propeller, whose power grows with the cube of its speed of rotation, and which turns somewhat
    faster the faster the airplane flies (common practice, no source). Balance: leans to where
    rudder is asked for, and grows with it. Flutter: begins 10 kt above the stall.

    Args:
        sheet: the course, and where the maneuver begins.
        speech: start and end of everything spoken, s; the bed gives way to it.
        levels: of every part, 0 to 1.
        length_s: of the soundtrack; the bed is silent from there on.
    """
    course = sheet.course
    time = _STEP_S * np.arange(length_s // _STEP_S + 3.0, dtype=np.float64)
    speed, power, rudder, margin = (
        _evened(np.interp(time, course.time_s, column))
        for column in (course.speed_kt, course.power, course.rudder, course.margin_kt)
    )
    lean = np.pi / 4.0 * (1.0 + np.clip(rudder, -1.0, 1.0))  # of equal power everywhere
    parts = {
        "airflow": (
            speed / _LOOP_KT * RATE / loops.AIRFLOW_SIZE,
            np.minimum(speed / _LOUDEST_KT, 1.0) ** 2,
        ),
        # A loop of the engine is its whole cycle of two revolutions, with four firings.
        "engine": (_rpm(power, speed) / 60.0 / 2.0, 0.35 + 0.65 * np.clip(power, 0.0, 1.0)),
        "balance": (
            np.full_like(time, _BALANCE_HZ),
            np.clip((np.abs(rudder) - _LEAST_RUDDER) / (1.0 - _LEAST_RUDDER), 0.0, 1.0)
            * np.array([np.cos(lean), np.sin(lean)]),
        ),
        "flutter": (
            np.full_like(time, RATE / loops.FLUTTER_SIZE),
            np.clip(1.0 - margin / _FLUTTER_KT, 0.0, 1.0),
        ),
    }
    whole = _fade(sheet, time, length_s) * _ducked(time, speech)
    return Bed(
        tuple(
            _Part(name, _turns(hz), hz, _both(levels[name] * PEAKS[name] * whole * strength))
            for name, (hz, strength) in parts.items()
            if levels[name] > 0.0
        )
    )


def _rpm(power: Floats, speed_kt: Floats) -> Floats:
    """Revolutions a minute: 2,450 in a cruise of 120 kt at 75 %, never below idle."""
    rpm = _RATED_RPM * np.cbrt(np.maximum(power, 0.0)) * (0.85 + 0.15 * speed_kt / 120.0)
    return np.maximum(rpm, _IDLE_RPM)


def _evened(column: Floats) -> Floats:
    reach = round(_EVEN_S / _STEP_S / 2.0)
    weights = np.hanning(2 * reach + 3)[1:-1]
    return np.convolve(np.pad(column, reach, mode="edge"), weights / weights.sum(), "valid")


def _turns(hz: Floats) -> Floats:
    """The integral of a rate that is a straight line from knot to knot, without whole loops."""
    return np.concatenate([[0.0], np.cumsum(0.5 * (hz[1:] + hz[:-1]) * _STEP_S)]) % 1.0


def _both(gain: Floats) -> Samples:
    """One gain for both ears or one for each, as float32 of shape (knots, 2)."""
    return np.ascontiguousarray(np.broadcast_to(gain, (2, gain.shape[-1])).T, dtype=np.float32)


def _soft(share: Floats) -> Floats:
    """0 to 1 without a corner at either end."""
    share = np.clip(share, 0.0, 1.0)
    return share * share * (3.0 - 2.0 * share)


def _fade(sheet: CueSheet, time: Floats, length_s: float) -> Floats:
    """In with the count-in, out after the course or with the end of the soundtrack."""
    start = max(0.0, sheet.flight_start_s - _FADE_IN_S)
    end = min(float(sheet.course.time_s[-1]) + _FADE_OUT_S, length_s - _STEP_S)
    return _soft(np.minimum((time - start) / _FADE_IN_S, (end - time) / _FADE_OUT_S))


def _ducked(time: Floats, speech: Iterable[tuple[float, float]]) -> Floats:
    """The gain that gives way to speech: down before the first word, slowly back after the last."""
    way = np.zeros_like(time)
    for start, end in speech:
        near = slice(
            max(0, int((start - _DUCK_BEFORE_S) / _STEP_S)),
            int((end + _DUCK_AFTER_S) / _STEP_S) + 2,
        )
        before = (time[near] - start) / _DUCK_BEFORE_S + 1.0
        after = (end - time[near]) / _DUCK_AFTER_S + 1.0
        way[near] = np.maximum(way[near], _soft(np.minimum(before, after)))
    return np.asarray(10.0 ** (-DUCK_DB / 20.0 * way))
