"""The day: weight, altitude, temperature, wind, and which way the maneuver is flown."""

from __future__ import annotations

import math
from dataclasses import dataclass

from coach.flight.atmosphere import density, standard_temperature


@dataclass(frozen=True)
class Conditions:
    """One airplane's day, in SI units and radians.

    Attributes:
        mass: kg.
        altitude: entry altitude above mean sea level, m.
        ground: elevation of the ground below, m.
        warmer: how much warmer than standard, K.
        wind_from: the direction the wind blows from, clockwise from north.
        wind_speed: m/s.
        heading: entry heading, or course where the ground is flown by, clockwise from north.
        entry_speed: indicated, m/s.
        loops: how many loops, or None for the whole figure.
        first_side: direction of the first turn, +1 right, -1 left.
        pressure_higher: how much higher the pressure altitude is than the altitude, m.
    """

    mass: float
    altitude: float
    ground: float
    warmer: float
    wind_from: float
    wind_speed: float
    heading: float
    entry_speed: float
    loops: int | None
    first_side: int
    pressure_higher: float = 0.0

    @property
    def temperature(self) -> float:
        """Air temperature at the entry altitude, K."""
        return standard_temperature(self.altitude + self.pressure_higher) + self.warmer

    def density(self, altitude: float) -> float:
        """Air density at an altitude on this day, kg/m3."""
        return density(altitude + self.pressure_higher, self.warmer)

    @property
    def crosswind(self) -> float:
        """Angle between the entry heading and the wind, 0 (ahead or behind) to pi/2 (across)."""
        return abs(math.remainder(self.wind_from - self.heading, math.pi))

    @property
    def wind(self) -> tuple[float, float]:
        """The velocity of the air over the ground, east and north, m/s."""
        return (
            -self.wind_speed * math.sin(self.wind_from),
            -self.wind_speed * math.cos(self.wind_from),
        )
