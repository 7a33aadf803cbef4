"""A hand that flies a plan as a person might, with the errors that are put in.

It holds a phone in any mounting, and can be asked for what it does at any time:

    hand = Simulated(planned(flight), seed=3, errors=(more_bank(24.5, 11.0),))
    hand.motion()                   # as it comes into the logbook
    hand.readings(GRIP)             # which way is up in the phone
    hand.quaternion(at_s, GRIP)     # what RelativeOrientationSensor gives, for one time
    hand.angles(at_s, GRIP)         # alpha, beta, gamma of deviceorientation

Of the hand: it follows the plan, a few hundredths of a second late; it trembles, and wanders by a
few degrees; its hold shifts slowly. How large each is, and how quickly it wanders, are guesses of
ours after what is generally said: a tremor of 8 to 12 Hz and below half a degree, and a hand put
right some three times a second.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from scipy.interpolate import CubicSpline
from scipy.spatial.transform import Rotation

from coach.flight.flight import Flight
from coach.hand.grip import EASY, Grip
from coach.hand.motion import Motion
from coach.hand.readings import Floats, Readings

Curve: TypeAlias = Callable[[Floats], Floats]
"""Degrees at flight seconds, shape (n,) both."""

Spoiled: TypeAlias = Callable[[Curve, Curve], tuple[Curve, Curve]]
"""Makes of the pitch and the bank that were meant those with an error in them."""

BEFORE_S = 20.0
"""The hand holds the first attitude for so long before the flight, and as long the last one."""

TREMBLES_DEG, WANDERS_DEG, SENSOR_DEG = 0.5, 1.25, 0.65
"""Standard deviations of the parts of 1.5 deg of noise: the tremor, what is slower than it, and the
sensor's own, which no reading shares with the next."""

WANDER_S = 0.15
"""Time constant of what is slower than the tremor."""

_GRID_HZ = 200.0


def planned(flight: Flight, rate_hz: float = 2.0) -> Motion:
    """The attitude of a flight, as often as a run's trace has it."""
    table = flight.at(np.append(np.arange(0.0, flight.length_s, 1.0 / rate_hz), flight.length_s))
    return _motion(table["t_s"], table["pitch_deg"], table["bank_deg"])


def more_bank(at_s: float, by_deg: float, over_s: float = 8.0) -> Spoiled:
    """Too much bank, most at one moment: ``by_deg`` further from level, or closer to it below 0."""
    return _added("bank", at_s, by_deg, over_s)


def more_pitch(at_s: float, by_deg: float, over_s: float = 8.0) -> Spoiled:
    """The nose too high, most at one moment; too low below 0."""
    return _added("pitch", at_s, by_deg, over_s)


def late_nose(late_s: float, from_s: float = -np.inf, to_s: float = np.inf) -> Spoiled:
    """The nose comes later from one time to another; earlier below 0. It takes 3 s to be so late."""
    return lambda pitch, bank: (_delayed(pitch, late_s, from_s, to_s), bank)


def late_bank(late_s: float, from_s: float = -np.inf, to_s: float = np.inf) -> Spoiled:
    """The bank comes later, as the nose in `late_nose`."""
    return lambda pitch, bank: (pitch, _delayed(bank, late_s, from_s, to_s))


def late(late_s: float, from_s: float = -np.inf, to_s: float = np.inf) -> Spoiled:
    """Both come later."""
    return lambda pitch, bank: (
        _delayed(pitch, late_s, from_s, to_s),
        _delayed(bank, late_s, from_s, to_s),
    )


def reversed_bank(from_s: float, to_s: float) -> Spoiled:
    """Banked to the wrong side from one time to another; 2 s lead over to it."""
    return lambda pitch, bank: (
        pitch,
        lambda at_s: bank(at_s) * (1.0 - 2.0 * _within(at_s, from_s, to_s, 2.0)),
    )


def rigid(share: float = 0.0) -> Spoiled:
    """A hand that moves by a share of what it ought to."""
    return lambda pitch, bank: (lambda at_s: share * pitch(at_s), lambda at_s: share * bank(at_s))


def wobbling(by_deg: float, hertz: float) -> Spoiled:
    """A hand that swings about what belongs, so far to either side."""

    def swing(at_s: Floats) -> Floats:
        return np.asarray(by_deg * np.sin(2.0 * np.pi * hertz * at_s))

    return lambda pitch, bank: (
        lambda at_s: pitch(at_s) + swing(at_s),
        lambda at_s: bank(at_s) + swing(at_s),
    )


def tempo(slope: float) -> Spoiled:
    """A hand that runs away, below 1, or drags, above it: what belongs at 100 s comes at 100 times
    the slope."""
    return lambda pitch, bank: (lambda at_s: pitch(at_s / slope), lambda at_s: bank(at_s / slope))


@dataclass(frozen=True)
class Simulated:
    """One hand on one flight.

    Attributes:
        plan: what it ought to fly.
        seed: of everything that is by chance.
        errors: what is put in, one after the other.
        noise_deg: standard deviation of pitch and of bank about what the hand means.
        drift_deg_per_min: how fast its hold shifts; to which side is by chance.
        delay_s: how much later its sensor tells.
        rate_hz: readings a second.
        gaps: (from, to) in flight seconds where no reading comes.
        frozen: (from, to) where the sensor tells the same again and again.
    """

    plan: Motion
    seed: int = 0
    errors: tuple[Spoiled, ...] = ()
    noise_deg: float = 1.5
    drift_deg_per_min: float = 0.5
    delay_s: float = 0.06
    rate_hz: float = 50.0
    gaps: tuple[tuple[float, float], ...] = ()
    frozen: tuple[tuple[float, float], ...] = ()

    def meant(self, at_s: npt.ArrayLike) -> tuple[Floats, Floats]:
        """Pitch and bank that the hand means, errors and all, without its noise; degrees."""
        times = np.atleast_1d(np.asarray(at_s, dtype=np.float64))
        pitch, bank = self._curves
        return pitch(times), bank(times)

    def attitude(self, at_s: npt.ArrayLike) -> tuple[Floats, Floats]:
        """Pitch and bank as the sensor tells them at any flight second; degrees."""
        times = self._thawed(np.atleast_1d(np.asarray(at_s, dtype=np.float64)))
        meant, noise = self.meant(times - self.delay_s), self._noise(times)
        shifted = self._drift * times[:, None] / 60.0
        return meant[0] + noise[:, 0] + shifted[:, 0], meant[1] + noise[:, 1] + shifted[:, 1]

    @cached_property
    def times_s(self) -> Floats:
        """When readings come, from before the flight to its end; not quite evenly."""
        random = np.random.default_rng([self.seed, 1])
        step = 1.0 / self.rate_hz
        times = np.arange(-BEFORE_S + 1.0, self.plan.time_s[-1] + 1.0, step)
        times = times + step * random.uniform(-0.2, 0.2, len(times))
        kept = np.ones(len(times), dtype=bool)
        for from_s, to_s in self.gaps:
            kept &= (times < from_s) | (times > to_s)
        return np.asarray(times[kept])

    def motion(self) -> Motion:
        """What is kept of it: from the flight's first moment to its last."""
        times = self.times_s
        times = times[(times >= 0.0) & (times <= self.plan.time_s[-1])]
        return _motion(times, *self.attitude(times))

    def up(self, at_s: npt.ArrayLike, grip: Grip = EASY) -> Floats:
        """Which way is up in the phone's axes, shape (n, 3)."""
        pitch, bank = (np.radians(one) for one in self.attitude(at_s))
        nose, right, top = _axes(grip)
        return np.asarray(
            np.outer(np.sin(pitch), nose)
            - np.outer(np.sin(bank) * np.cos(pitch), right)
            + np.outer(np.cos(bank) * np.cos(pitch), top)
        )

    def readings(self, grip: Grip = EASY) -> Readings:
        """All of them, at flight seconds."""
        return Readings(self.times_s, self.up(self.times_s, grip))

    def quaternions(
        self, at_s: npt.ArrayLike, grip: Grip = EASY, heading_deg: float = 0.0
    ) -> Floats:
        """x, y, z, w that turn the phone's axes into the earth's (east, north, up), shape (n, 4).

        As W3C's Orientation Sensor has it. The heading is by where the sensor began, and drifts.
        """
        return np.asarray(self._rotation(at_s, grip, heading_deg).as_quat())

    def quaternion(self, at_s: float, grip: Grip = EASY) -> dict[str, float]:
        """One of them, as the browser's sensor override takes it."""
        return dict(zip("xyzw", map(float, self.quaternions(at_s, grip)[0]), strict=True))

    def angles(self, at_s: npt.ArrayLike, grip: Grip = EASY, heading_deg: float = 0.0) -> Floats:
        """alpha (0 to 360), beta (-180 to 180), gamma (-90 to 90) of W3C's deviceorientation,
        degrees, shape (n, 3)."""
        alpha, beta, gamma = self._rotation(at_s, grip, heading_deg).as_euler("ZXY", degrees=True).T
        over = np.abs(gamma) > 90.0
        alpha = np.where(over, alpha + 180.0, alpha) % 360.0
        beta = np.where(over, 180.0 - beta, beta)
        gamma = np.where(over, gamma - np.copysign(180.0, gamma), gamma)
        return np.column_stack([alpha, (beta + 180.0) % 360.0 - 180.0, gamma])

    def _rotation(self, at_s: npt.ArrayLike, grip: Grip, heading_deg: float) -> Rotation:
        times = np.atleast_1d(np.asarray(at_s, dtype=np.float64))
        pitch, bank = self.attitude(times)
        heading = heading_deg + 2.0 * times / 60.0
        # East, north, up of an airplane's nose, right wing and top: turned by its heading about
        # down, then pitched, then banked.
        north_east_down = Rotation.from_euler("ZYX", np.column_stack([heading, pitch, bank]), True)
        to_earth = Rotation.from_matrix([[0.0, 1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, -1.0]])
        nose, right, top = _axes(grip)
        airplane: Rotation = Rotation.from_matrix(np.array([nose, right, -top]))
        return to_earth * north_east_down * airplane

    @cached_property
    def _curves(self) -> tuple[Curve, Curve]:
        plan = self.plan
        pitch, bank = _held(plan.time_s, plan.pitch_deg), _held(plan.time_s, plan.bank_deg)
        for error in self.errors:
            pitch, bank = error(pitch, bank)
        return pitch, bank

    def _thawed(self, times: Floats) -> Floats:
        out = times.copy()
        for from_s, to_s in self.frozen:
            out[(times >= from_s) & (times <= to_s)] = from_s
        return np.asarray(out)

    @cached_property
    def _drift(self) -> Floats:
        sides = np.random.default_rng([self.seed, 2]).choice([-1.0, 1.0], size=2)
        return np.asarray(self.drift_deg_per_min * sides)

    def _noise(self, times: Floats) -> Floats:
        grid, slow = self._wandering
        out = np.column_stack([np.interp(times, grid, slow[:, axis]) for axis in (0, 1)])
        # The same at the same time, however often and in whatever order it is asked for.
        of_its_own = np.random.default_rng([self.seed, 4]).standard_normal((4096, 2))
        out += SENSOR_DEG * of_its_own[np.round(times * 1000.0).astype(np.int64) * 7919 % 4096]
        return np.asarray(out * self.noise_deg / _ALL_DEG)

    @cached_property
    def _wandering(self) -> tuple[Floats, Floats]:
        random = np.random.default_rng([self.seed, 3])
        grid = np.arange(-BEFORE_S - 5.0, self.plan.time_s[-1] + BEFORE_S, 1.0 / _GRID_HZ)
        kept = np.exp(-1.0 / (_GRID_HZ * WANDER_S))
        pushes = np.sqrt(1.0 - kept**2) * random.standard_normal((len(grid), 2))
        taps = kept ** np.arange(int(6 * WANDER_S * _GRID_HZ))
        slow = np.column_stack([np.convolve(one, taps)[: len(grid)] for one in pushes.T])
        phase = np.cumsum(random.uniform(8.0, 12.0, (len(grid) // 40 + 1, 2)).repeat(40, axis=0), 0)
        trembling = np.sqrt(2.0) * np.sin(
            2.0 * np.pi * phase[: len(grid)] / _GRID_HZ + random.uniform(0.0, 6.28, 2)
        )
        return grid, np.asarray(WANDERS_DEG * slow + TREMBLES_DEG * trembling)


_ALL_DEG = float(np.hypot(np.hypot(TREMBLES_DEG, WANDERS_DEG), SENSOR_DEG))


def mounting(seed: int) -> Grip:
    """Any way at all to hold a phone or to strap it on."""
    matrix = Rotation.random(random_state=seed).as_matrix()
    nose, top = (tuple(float(one) for one in axis) for axis in matrix[:2])
    return Grip((nose[0], nose[1], nose[2]), (top[0], top[1], top[2]))


def _axes(grip: Grip) -> tuple[Floats, Floats, Floats]:
    nose, top = np.asarray(grip.nose), np.asarray(grip.top)
    return nose, np.cross(nose, top), top


def _motion(time_s: Floats, pitch: Floats, bank: Floats) -> Motion:
    return Motion(tuple(time_s.tolist()), tuple(pitch.tolist()), tuple(bank.tolist()))


def _held(time_s: tuple[float, ...], values: tuple[float, ...]) -> Curve:
    """A plan between its rows, without a corner; its ends are held."""
    spline = CubicSpline(time_s, values)
    return lambda at_s: np.asarray(spline(np.clip(at_s, time_s[0], time_s[-1])))


def _within(at_s: Floats, from_s: float, to_s: float, lead_s: float) -> Floats:
    """1 from one time to another, 0 outside; it changes smoothly around either end."""

    def begun(after_s: Floats) -> Floats:
        share = np.clip(after_s / lead_s + 0.5, 0.0, 1.0)
        return np.asarray(share**3 * (10.0 - 15.0 * share + 6.0 * share**2))

    return begun(at_s - from_s) * begun(to_s - at_s)


def _added(axis: str, at_s: float, by_deg: float, over_s: float) -> Spoiled:
    def swell(times: Floats) -> Floats:
        inside = np.clip((times - at_s) / over_s, -0.5, 0.5)
        return np.asarray(by_deg * np.cos(np.pi * inside) ** 2)

    def spoiled(pitch: Curve, bank: Curve) -> tuple[Curve, Curve]:
        if axis == "pitch":
            return lambda times: pitch(times) + swell(times), bank
        side = float(np.sign(bank(np.array([at_s]))[0])) or 1.0
        return pitch, lambda times: bank(times) + side * swell(times)

    return spoiled


def _delayed(curve: Curve, late_s: float, from_s: float, to_s: float) -> Curve:
    return lambda at_s: curve(at_s - late_s * _within(at_s, from_s, to_s, 3.0))
