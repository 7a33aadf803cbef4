"""A hand joined to one attempt: its readings on the flight's clock, and how it stands to the plan.

For the terminal, the page and a room alike. Whoever has a phone's readings hands them over as they
come, with what was heard when; what comes back is kept with the run (`Attempt.motion`).
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from coach.callouts.cuesheet import CueSheet
from coach.flight.flight import Flight
from coach.hand.fresh_level import LEVEL_S, fresh_level
from coach.hand.grip import EASY, Grip
from coach.hand.motion import Motion
from coach.hand.off import LOST_S, Off
from coach.hand.readings import NONE, Floats, Readings, middle
from coach.hand.smooth import GAP_S, wrapped
from coach.rehearsal.attempt import EARLIEST_TAP_S
from coach.rehearsal.ready import Rehearsal

SENSOR_S, SENSOR_DOUBT_S = 0.02, 0.02
"""How old a reading is when a phone's browser stamps it, and by how much that may be wrong: a
guess, for no phone was measured. Filters of the sensor and a browser's queue take one or two
periods of 60 Hz."""

NOW_S = 0.25
"""How it is held now is the mean of so long."""

GOING_BACK_S = 1.5
"""After starting over the sound takes so long at most to be back before the first moment."""

_BACK_S = 0.2
"""The sound goes back by so much at least; less is how well it is known where it is."""

State = Literal["lost", "joined", "level", "flying"]


@dataclass(frozen=True)
class Live:
    """How a hand stands at one moment.

    Attributes:
        state: nothing is read of it ("lost"); it is there ("joined"); it is held as the maneuver
            begins, steadily enough for a fresh level ("level"); the maneuver is flown ("flying").
        pitch_deg: how it is held, from level flight at entry; None where that is not known.
        bank_deg: likewise.
        planned_pitch_deg: as it is flown at that moment; before the first one as there.
        planned_bank_deg: likewise.
        off: it is too far off, and has been for long enough to be told.
    """

    state: State = "lost"
    pitch_deg: float | None = None
    bank_deg: float | None = None
    planned_pitch_deg: float = 0.0
    planned_bank_deg: float = 0.0
    off: bool = False


class Moving:
    """A student's hand in one attempt after the other at a rehearsal.

    Attributes:
        grip: how the phone is held: as it was given, with the last fresh level.
    """

    def __init__(self, rehearsal: Rehearsal, grip: Grip = EASY, tone_deg: float = 0.0) -> None:
        """Nothing is read yet.

        Args:
            rehearsal: what is flown, a whole one.
            grip: how the phone is held.
            tone_deg: further off than this, in pitch or in bank, is too far; 0 for never.
        """
        self.grip = self._given = grip
        self._sheet: CueSheet = rehearsal.sheet
        self._plan = _Plan(rehearsal.flight)
        self._tone_deg = tone_deg
        self._from_s = -math.inf
        self._begin()

    def _begin(self) -> None:
        self._covered = _Covered()
        # Since when what is heard was heard before, up to where.
        self._again: list[tuple[float, float]] = []
        # What was read before the first moment, until the level is known, on the flight's clock.
        self._before = NONE
        self._before_doubt_s = 0.0
        self._is_levelled = False
        self._newest = -math.inf, -math.inf  # machine's clock and flight's, of what was heard last
        self._last = NONE  # of about NOW_S, on the machine's clock
        self._last_flown_s = np.empty(0)
        self._state: State = "joined"
        self._off = Off(self._tone_deg)

    def follow(
        self,
        grip: Grip,
        readings: Iterable[Readings],
        position_s: Callable[[float], float | None],
        doubt_s: float,
    ) -> Motion:
        """Take all that has come of a phone; see `take`.

        Args:
            grip: how it is held from now on; where it was given like that before, the fresh level
                that it has had since stays.
            readings: what came, in time.
            position_s: as for `take`.
            doubt_s: likewise.
        """
        if grip != self._given:
            self.grip = self._given = grip
        return Motion().joined(*[self.take(one, position_s, doubt_s) for one in readings])

    def restart(self, at_s: float) -> None:
        """The student starts over: what was read before then is of no attempt any more.

        Args:
            at_s: when, on the machine's clock.
        """
        self._from_s = at_s
        self._begin()

    def take(
        self, readings: Readings, position_s: Callable[[float], float | None], doubt_s: float
    ) -> Motion:
        """Put readings on the flight's clock; late ones, and ones that come again, do no harm.

        Before the first moment they give the fresh level. It is taken where the hand was steady
        and within `NEAR_DEG` of how the maneuver begins, and else stays as it was; where that is
        not level, it must be clear which of both is held. Until the first moment they are held
        back.

        Args:
            readings: on the machine's clock (`time.perf_counter`).
            position_s: what of the soundtrack was heard then; None while it stood.
            doubt_s: the most that the readings' times may be off.

        Returns:
            What is to be kept of them: from `EARLIEST_TAP_S` to the end of the flight, where
            nothing was read before; often nothing.
        """
        flown_s = np.array([self._flown_s(at, position_s) for at in readings.at_s.tolist()])
        going_back = (readings.at_s < self._from_s + GOING_BACK_S) & (flown_s > 0.0)
        ours = (readings.at_s > self._from_s) & ~going_back
        at_s, up, flown_s = readings.at_s[ours], readings.up[ours], flown_s[ours]
        self._see(at_s, up, flown_s)
        for jump_s, until_s in self._again:
            ours = (at_s <= jump_s) | ~(flown_s <= until_s)
            at_s, up, flown_s = at_s[ours], up[ours], flown_s[ours]
        # The sensor's doubt and the clocks' are seconds of the machine.
        doubt_s = (doubt_s + SENSOR_DOUBT_S) * self._sheet.pace
        heard = (flown_s >= self._earliest_s) & (flown_s <= self._plan.length_s)
        begun, flown_s, up = bool((flown_s >= 0.0).any()), flown_s[heard], up[heard]
        coming = Readings(flown_s, up)
        if self._is_levelled:
            return self._placed(coming, doubt_s)
        before = self._before = self._before.joined(coming)
        self._before_doubt_s = max(self._before_doubt_s, doubt_s)
        fresh = fresh_level(
            self.grip, -before.at_s / self._sheet.pace, before.up, self._plan.attitude(0.0)
        )
        if not begun:
            self._state = "level" if fresh else "joined"
            return Motion()
        self.grip = fresh or self.grip
        self._is_levelled, self._state = True, "flying"
        self._before = NONE
        return self._placed(before, self._before_doubt_s)

    def live(self, now_s: float) -> Live:
        """How the hand stands.

        Args:
            now_s: the machine's clock.
        """
        if not len(self._last) or now_s - self._last.at_s[-1] > LOST_S:
            return Live()
        pitch_deg, bank_deg = self._held()
        planned_pitch_deg, planned_bank_deg = self._planned()
        return Live(
            self._state, pitch_deg, bank_deg, planned_pitch_deg, planned_bank_deg, self._off.is_off
        )

    def _flown_s(self, at_s: float, position_s: Callable[[float], float | None]) -> float:
        position = position_s(at_s - SENSOR_S)
        return math.nan if position is None else self._sheet.flight_s(position)

    @property
    def _earliest_s(self) -> float:
        """From when on readings are looked at, on the flight's clock."""
        level_s = -LEVEL_S * self._sheet.pace
        return EARLIEST_TAP_S if self._is_levelled else min(EARLIEST_TAP_S, level_s)

    def _see(self, at_s: Floats, up: Floats, flown_s: Floats) -> None:
        """Look at what is newest, for `live`."""
        newest_s = self._last.at_s[-1] if len(self._last) else -math.inf
        new = at_s > newest_s
        if not new.any():
            return
        heard = np.isfinite(flown_s) & new
        if len(times := at_s[heard]):
            self._hear(times, flown_s[heard])
        self._last = self._last.joined(Readings(at_s[new], up[new])).last(NOW_S)
        flown_s = np.concatenate([self._last_flown_s, flown_s[new]])
        self._last_flown_s = flown_s[len(flown_s) - len(self._last) :]
        flying = 0.0 <= self._last_flown_s[-1] <= self._plan.length_s
        apart = wrapped(np.subtract(self._held(), self._planned()))
        off_deg = float(np.abs(apart).max())
        self._off.look(float(at_s[-1]), off_deg if flying else None)

    def _hear(self, at_s: Floats, flown_s: Floats) -> None:
        """Notice where the sound goes back, such as after its device was gone."""
        at_s, flown_s = np.append(self._newest[0], at_s), np.append(self._newest[1], flown_s)
        for back in np.flatnonzero(np.diff(flown_s) < -_BACK_S):
            self._again.append((float(at_s[back]), float(flown_s[back])))
        self._newest = float(at_s[-1]), float(flown_s[-1])

    def _held(self) -> tuple[float, float]:
        """Pitch and bank of about now, degrees."""
        pitch, bank = self.grip.attitude(middle(self._last.up)[np.newaxis])
        return float(pitch[0]), float(bank[0])

    def _planned(self) -> tuple[float, float]:
        """The same of the plan, over the same readings."""
        heard_s = self._last_flown_s[np.isfinite(self._last_flown_s)]
        return self._plan.attitude(float(heard_s.mean()) if len(heard_s) else 0.0)

    def _placed(self, coming: Readings, doubt_s: float) -> Motion:
        """The motion of what no reading was there before, stretch by stretch.

        A gap that is one for `coach.hand.smooth` has room for readings that come later.
        """
        kept = coming.at_s >= EARLIEST_TAP_S
        flown_s, up = coming.at_s[kept], coming.up[kept]
        steps = np.diff(flown_s)
        ends = np.flatnonzero((steps <= 0.0) | (steps > GAP_S * self._sheet.pace)) + 1
        whole = Motion()
        for times, ups in zip(np.split(flown_s, ends), np.split(up, ends), strict=True):
            new = [not self._covered.has(at) for at in times.tolist()]
            if any(new):
                pitch, bank = self.grip.attitude(ups[new])
                time_s, pitch_deg, bank_deg = (
                    tuple(one.tolist()) for one in (times[new], pitch, bank)
                )
                whole = whole.joined(Motion(time_s, pitch_deg, bank_deg, doubt_s))
                self._covered.add(float(times[0]), float(times[-1]))
        return whole


class _Plan:
    """The attitude that is flown, at any time."""

    def __init__(self, flight: Flight) -> None:
        table = flight.table(20.0)
        self.length_s = flight.length_s
        self._columns = table["t_s"], table["pitch_deg"], table["bank_deg"]

    def attitude(self, flown_s: float) -> tuple[float, float]:
        """Pitch and bank, degrees; before and after the flight as at its ends."""
        time_s, pitch, bank = self._columns
        return float(np.interp(flown_s, time_s, pitch)), float(np.interp(flown_s, time_s, bank))


class _Covered:
    """Where readings have been taken, on the flight's clock: intervals that do not touch."""

    def __init__(self) -> None:
        self._begins: list[float] = []
        self._ends: list[float] = []

    def has(self, at_s: float) -> bool:
        """Whether that moment lies in one."""
        before = bisect_right(self._begins, at_s) - 1
        return before >= 0 and at_s <= self._ends[before]

    def add(self, begin_s: float, end_s: float) -> None:
        """Cover all in between too."""
        first, last = bisect_left(self._ends, begin_s), bisect_right(self._begins, end_s)
        self._begins[first:last] = [min([begin_s, *self._begins[first:last]])]
        self._ends[first:last] = [max([end_s, *self._ends[first:last]])]
