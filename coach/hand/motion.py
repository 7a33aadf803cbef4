"""The attitude that a hand flew, on the flight's clock.

Packed, it is a head (`_HEAD`) and then, deflated, its times in whole `TICK_S` and its angles in
whole `STEP_DEG`: what each reading differs from the one before, the sign in the lowest bit, so that
the higher bytes are nearly all 0. Those come apart from the lower ones, which packs them closer.
"""

from __future__ import annotations

import itertools
import math
import struct
import zlib
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from coach.problems import Problem

if TYPE_CHECKING:
    from coach.hand.smooth import Smooth

TICK_S = 1e-3
"""Readings nearer to each other are in one place; no phone gives a thousand a second."""

STEP_DEG = 0.01

MOST_READINGS = 500_000
"""Of one motion: more than two hours at 60 a second."""

_VERSION = 1

_HEAD = struct.Struct("<BIH")
"""Version, how many readings, doubt in ticks."""

_COLUMNS, _WIDTH = 3, 4


@dataclass(frozen=True)
class Motion:
    """Pitch and bank over time, as they were read; where nothing was read there is nothing.

    A plan is one as well: its rows lie further apart, and between them it is known.

    Attributes:
        time_s: seconds on the flight's clock, increasing.
        pitch_deg: as of `coach.flight.moment.Moment`: from level flight at entry, up positive.
        bank_deg: right positive.
        doubt_s: the most that the times may be off together: of the clocks and of the sensor.
    """

    time_s: tuple[float, ...] = ()
    pitch_deg: tuple[float, ...] = ()
    bank_deg: tuple[float, ...] = ()
    doubt_s: float = 0.0

    def __len__(self) -> int:
        return len(self.time_s)

    def joined(self, *others: Motion) -> Motion:
        """This and other motions of the same flight as one.

        In time, whatever order they came in; of readings in one place the one that was there
        before stays. The doubt is the greatest of them.
        """
        rows: list[tuple[float, float, float]] = []
        late = False
        for motion in (self, *others):
            more = [*zip(motion.time_s, motion.pitch_deg, motion.bank_deg, strict=True)]
            late |= bool(rows and more and more[0][0] < rows[-1][0] + TICK_S)
            rows.extend(more)
        if late:  # once, for there may be thousands of others
            rows.sort(key=lambda row: row[0])
            rows = _apart(rows)
        doubt = max(motion.doubt_s for motion in (self, *others))
        time_s, pitch_deg, bank_deg = zip(*rows, strict=True) if rows else ((), (), ())
        return Motion(time_s, pitch_deg, bank_deg, doubt)

    def packed(self) -> bytes:
        """The same in few bytes, to `TICK_S` and `STEP_DEG`.

        Packed again it is the same bytes. 60 readings a second of an unsteady hand are about
        12 kB a minute.

        Raises:
            Problem: what `unpacked` would refuse.
        """
        import numpy as np

        if wrong := fault(self):
            raise Problem(f"a hand's motion cannot be kept: {wrong}.")
        columns = zip(
            (self.time_s, self.pitch_deg, self.bank_deg), (TICK_S, STEP_DEG, STEP_DEG), strict=True
        )
        whole = np.array([np.round(np.asarray(one) / unit) for one, unit in columns])
        # Two that come to lie on one tick are one reading.
        whole = whole[:, np.diff(whole[0], prepend=-np.inf) > 0.0].astype(np.int32)
        steps = np.diff(whole, axis=1, prepend=np.int32(0))
        signed = np.ascontiguousarray((steps << 1) ^ (steps >> 31), "<i4")
        body = signed.view(np.uint8).reshape(_COLUMNS, -1, _WIDTH).transpose(0, 2, 1).tobytes()
        doubt = min(round(self.doubt_s / TICK_S), 0xFFFF)
        return _HEAD.pack(_VERSION, whole.shape[1], doubt) + zlib.compress(body, 6)

    @cached_property
    def smooth(self) -> Smooth:
        """What a hand did where it was seen, less its noise, at an even rate."""
        from coach.hand.smooth import flown

        return flown(self.time_s, self.pitch_deg, self.bank_deg)

    @cached_property
    def smooth_plan(self) -> Smooth:
        """The same of a plan: between its rows too, and smoothed as a hand is."""
        from coach.hand.smooth import planned

        return planned(self.time_s, self.pitch_deg, self.bank_deg)


def unpacked(packed: bytes) -> Motion:
    """The motion that was packed.

    Raises:
        Problem: the bytes are damaged, or hold what no hand can have done.
    """
    import numpy as np

    damaged = Problem("a hand's motion in it is damaged")
    if len(packed) < _HEAD.size:
        raise damaged
    version, count, doubt = _HEAD.unpack_from(packed)
    if version != _VERSION:
        raise Problem(f"a hand's motion in it is of kind {version}, which this coach does not know")
    size = count * _COLUMNS * _WIDTH
    if count > MOST_READINGS:
        raise damaged
    inflating = zlib.decompressobj()
    try:
        body = inflating.decompress(packed[_HEAD.size :], size + 1)
    except zlib.error:
        raise damaged from None
    if len(body) != size or not inflating.eof or inflating.unused_data:
        raise damaged
    planes = np.frombuffer(body, np.uint8).reshape(_COLUMNS, _WIDTH, count)
    signed = np.ascontiguousarray(planes.transpose(0, 2, 1)).view("<u4")[:, :, 0].astype(np.int64)
    whole = np.cumsum((signed >> 1) ^ -(signed & 1), axis=1)
    time, pitch, bank = (
        np.round(one * unit, 3).tolist()
        for one, unit in zip(whole, (TICK_S, STEP_DEG, STEP_DEG), strict=True)
    )
    motion = Motion(tuple(time), tuple(pitch), tuple(bank), doubt * TICK_S)
    if fault(motion):
        raise damaged
    return motion


def _apart(rows: list[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    kept = rows[:1]
    for row in rows[1:]:
        if row[0] >= kept[-1][0] + TICK_S:
            kept.append(row)
    return kept


TIME_S = (-60.0, 36_000.0)
"""Of a reading, on the flight's clock: a count-in before it, and ten hours."""

MOST_DEG = 360.0


def fault(motion: Motion) -> str:
    """What no hand can have done, as half a sentence; "" for nothing."""
    columns = (motion.time_s, motion.pitch_deg, motion.bank_deg)
    if len({*map(len, columns)}) > 1 or len(motion) > MOST_READINGS:
        return f"it must have as many angles as times, and at most {MOST_READINGS:,}"
    if not all(TIME_S[0] <= time <= TIME_S[1] for time in motion.time_s):
        return f"its times must be from {TIME_S[0]:g} to {TIME_S[1]:g} s"
    if any(after <= before for before, after in itertools.pairwise(motion.time_s)):
        return "its times must increase"
    if not all(abs(angle) <= MOST_DEG for angle in itertools.chain(*columns[1:])):
        return f"its angles must be within {MOST_DEG:g} degrees"
    if not (math.isfinite(motion.doubt_s) and motion.doubt_s >= 0.0):
        return "its doubt must not be negative"
    return ""
