"""What engine and propeller make of a throttle: thrust, power and revolutions.

Speeds are true, m/s; densities kg/m3; thrust newton; power a share of rated power; turns
revolutions a second. A ``throttle`` from 0 to 1 is how far it is open, by what the engine gives in
this air at its rated revolutions; left alone it stays as it is, whatever the airplane does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple, Protocol

from coach.flight.atmosphere import power_ratio
from coach.flight.disk import disk_thrust, power_for_thrust

IDLE_SHARE = 0.12
"""Share of full throttle below which a propeller of constant speed begins to hold back, more and
more as it comes to its finest pitch (a model's guess)."""

NO_POWER = 2.0
"""Square of the advance ratio at which a fixed-pitch propeller takes no power: a parabola through
the tables of JSBSim's prop_75in2f, right within 4 % at advance ratios of 0.5 to 0.9."""

STALLING = 0.5
"""Advance ratio below which its blades begin to stall: there the same tables have a slope of the
polar that is less by as much as the advance ratio is."""

EFFICIENCY = 0.85
"""Thrust times speed over shaft power of a usual fixed-pitch propeller in cruise: the same tables
have 0.82 to 0.855 at advance ratios of 0.7 to 1 (common practice, no source: 0.8 to 0.9)."""

WINDMILL = 0.042
"""Drag area of a usual fixed-pitch propeller without power over the area of its disk: the linear
propeller polar through the same tables at advance ratios of 0.5 to 0.9, right within 2.5 %."""

OF_IDEAL_THRUST = 0.833
"""Thrust of a usual propeller of constant speed over that of the ideal one, the actuator disk, for
the same shaft power: measured on JSBSim's model c182 from 82 to 125 kt and 45 to 75 % power, where
it holds within 1.5 %."""


class Output(NamedTuple):
    """What engine and propeller give.

    Attributes:
        thrust: N; less than nothing where the propeller holds back.
        power: at the shaft, as a share of rated power.
        turns: revolutions a second; nan where they are not for the throttle to say.
    """

    thrust: float
    power: float
    turns: float


class Propeller(Protocol):
    """An engine with its propeller."""

    @property
    def rated_power(self) -> float:
        """At the shaft at sea level, W."""

    @property
    def strength(self) -> float:
        """What the engine gives at full throttle over what it is rated for."""

    @property
    def drag_area(self) -> float:
        """What the propeller without power holds back, over dynamic pressure, m2."""

    def output(self, throttle: float, speed: float, air: float) -> Output:
        """What a throttle gives."""

    def throttle_for_thrust(self, thrust: float, speed: float, air: float) -> float:
        """The throttle that gives a thrust, as far as there is one: the inverse of `output`."""

    def throttle_for_power(self, power: float, speed: float, air: float) -> float:
        """The throttle that gives a power, as far as there is one: the inverse of `output`."""

    def strength_for(self, thrust: float, speed: float, air: float) -> float:
        """The strength with which full throttle gives a thrust."""

    def strong(self, strength: float) -> Propeller:
        """The same with another strength."""


@dataclass(frozen=True)
class FixedPitch:
    """A propeller of fixed pitch, whose revolutions follow from torque and speed.

    Thrust and power coefficients over the square of the advance ratio J lie on a straight line, the
    linear propeller polar: CT / J^2 = slope CP / J^2 + offset (J. T. Lowry, J. Aviation/Aerospace
    Education & Research 6, 1995, no. 1). With the torque M, and so P = 2 pi n M, the revolutions n
    cancel: T = 2 pi slope M / d + offset rho d^2 V^2, less the slope where the blades stall. They
    follow from how CP falls with J, here as static (1 - J^2 / `NO_POWER`).

    The throttle is a resistance in the way of the air, in series with the engine's own: wide open
    the torque stays as the revolutions change, nearly closed the flow of air and so the power.
    Between them M = full x / (x + (1 - x) n / n0) for the throttle x.

    Attributes:
        rated_power: at the shaft at sea level, W.
        rated_turns: n0, at which the engine has that.
        strength: torque at full throttle over the rated one; both fall with `power_ratio`.
        diameter: m.
        slope: of the polar.
        drag_area: -2 d^2 times the polar's offset, m2.
        static: CP standing still, as the fit has it.
    """

    rated_power: float
    rated_turns: float
    strength: float
    diameter: float
    slope: float
    drag_area: float
    static: float

    @classmethod
    def through(
        cls, power: float, turns: float, speed: float, air: float, thrust: float, drag_area: float,
        *, rated_power: float, rated_turns: float, diameter: float,
    ) -> FixedPitch:  # fmt: skip
        """The propeller that takes a power, and gives a thrust, at these revolutions and speed.

        Raises:
            ValueError: so slow and so fast no propeller takes a power.
        """
        advance = (speed / (turns * diameter)) ** 2 / NO_POWER
        if advance > 0.8:
            raise ValueError("the advance ratio is beyond what a propeller takes power at")
        pull = thrust + 0.5 * air * speed**2 * drag_area
        return cls(
            rated_power=rated_power,
            rated_turns=rated_turns,
            strength=1.0,
            diameter=diameter,
            slope=pull * diameter * turns / power,
            drag_area=drag_area,
            static=power / (air * turns**3 * diameter**5) / (1.0 - advance),
        )

    def output(self, throttle: float, speed: float, air: float) -> Output:
        """What a throttle gives, where the propeller takes the power that the engine gives.

        CP rho n^2 d^5 = 2 pi M(n) is a cubic; begun from above, Newton's method converges at once.
        """
        full = self._full(air)
        free = (speed / self.diameter) ** 2 / NO_POWER
        given = throttle * self._taken(full, air)
        closed = (1.0 - throttle) / self.rated_turns
        turns = math.sqrt(free + given / max(throttle, 0.3))
        for _ in range(3):
            flow = throttle + closed * turns
            missing = turns * turns - free - given / flow
            turns -= missing / (2.0 * turns + given * closed / (flow * flow))
        torque = full * throttle / (throttle + closed * turns)
        pull = self._pull(speed, turns) * torque - 0.5 * air * speed**2 * self.drag_area
        return Output(pull, 2.0 * math.pi * turns * torque / self.rated_power, turns)

    def throttle_for_thrust(self, thrust: float, speed: float, air: float) -> float:
        """The throttle that gives a thrust, as far as there is one."""
        torque, turns = self._for_thrust(thrust, speed, air)
        return self._throttle(torque, turns, air)

    def throttle_for_power(self, power: float, speed: float, air: float) -> float:
        """The throttle that gives a power, as far as there is one.

        n^3 - (V / d)^2 n / `NO_POWER` = P / (static rho d^5) has one real root above that of no
        power.
        """
        if power <= 0.0:
            return 0.0
        power *= self.rated_power
        third = math.sqrt(1.0 / (3.0 * NO_POWER)) * speed / self.diameter
        share = power / (2.0 * self.static * air * self.diameter**5 * third**3)
        if share < 1.0:
            turns = 2.0 * third * math.cos(math.acos(share) / 3.0)
        else:
            turns = 2.0 * third * math.cosh(math.acosh(share) / 3.0)
        return self._throttle(power / (2.0 * math.pi * turns), turns, air)

    def strength_for(self, thrust: float, speed: float, air: float) -> float:
        """The strength with which full throttle gives a thrust."""
        torque, _ = self._for_thrust(thrust, speed, air)
        return self.strength * torque / self._full(air)

    def strong(self, strength: float) -> FixedPitch:
        """The same with another strength."""
        return replace(self, strength=strength)

    def _for_thrust(self, thrust: float, speed: float, air: float) -> tuple[float, float]:
        """The torque that gives a thrust, none below zero, and its revolutions a second."""
        pull = max(0.0, thrust + 0.5 * air * speed**2 * self.drag_area)
        free = (speed / self.diameter) ** 2 / NO_POWER
        turns, torque = 0.0, pull * self.diameter / (2.0 * math.pi * self.slope)
        for _ in range(8):  # blades that stall change the torque by little: this converges at once
            turns = math.sqrt(free + self._taken(torque, air))
            torque = pull / self._pull(speed, turns)
        return torque, turns

    def _throttle(self, torque: float, turns: float, air: float) -> float:
        """The throttle that gives a torque at these revolutions."""
        full = self._full(air)
        if torque >= full:
            return 1.0
        passed = torque * turns / self.rated_turns
        return passed / (full - torque + passed)

    def _taken(self, torque: float, air: float) -> float:
        """n^2 of the propeller standing still, for a torque."""
        return 2.0 * math.pi * torque / (self.static * air * self.diameter**5)

    def _full(self, air: float) -> float:
        """Torque at full throttle, N m."""
        return self._full_torque * max(1e-3, power_ratio(air))

    @cached_property
    def _full_torque(self) -> float:
        return self.strength * self.rated_power / (2.0 * math.pi * self.rated_turns)

    def _pull(self, speed: float, turns: float) -> float:
        """Thrust for each unit of torque, 1/m."""
        advance = speed / (turns * self.diameter)
        stalled = max(0.0, STALLING - advance)
        return 2.0 * math.pi * self.slope * (1.0 - stalled) / self.diameter


@dataclass(frozen=True)
class ConstantSpeed:
    """A propeller whose governor keeps the revolutions, so that the throttle keeps the power.

    Its thrust is a share of the ideal one's, the actuator disk with the same power.

    Attributes:
        rated_power: at the shaft at sea level, W.
        strength: power at full throttle over the rated one; both fall with `power_ratio`.
        disk_area: swept by the propeller, m2.
        of_ideal: thrust over that of the disk.
        drag_area: of the propeller without power, m2.
    """

    rated_power: float
    strength: float
    disk_area: float
    of_ideal: float
    drag_area: float

    def output(self, throttle: float, speed: float, air: float) -> Output:
        """What a throttle gives."""
        power = throttle * self._full(air)
        thrust = self.of_ideal * disk_thrust(power, speed, air, self.disk_area)
        if throttle < IDLE_SHARE:
            share = 1.0 - throttle / IDLE_SHARE
            thrust -= share * 0.5 * air * speed**2 * self.drag_area
        return Output(thrust, power / self.rated_power, math.nan)

    def throttle_for_thrust(self, thrust: float, speed: float, air: float) -> float:
        """The throttle that gives a thrust, as if idle held nothing back."""
        power = power_for_thrust(thrust / self.of_ideal, speed, air, self.disk_area)
        return min(1.0, power / self._full(air))

    def throttle_for_power(self, power: float, speed: float, air: float) -> float:
        """The throttle that gives a power, as far as there is one."""
        return min(1.0, power * self.rated_power / self._full(air))

    def strength_for(self, thrust: float, speed: float, air: float) -> float:
        """The strength with which full throttle gives a thrust."""
        power = power_for_thrust(thrust / self.of_ideal, speed, air, self.disk_area)
        return self.strength * power / self._full(air)

    def strong(self, strength: float) -> ConstantSpeed:
        """The same with another strength."""
        return replace(self, strength=strength)

    def _full(self, air: float) -> float:
        """Power at full throttle, W."""
        return self.strength * self.rated_power * max(1e-3, power_ratio(air))
