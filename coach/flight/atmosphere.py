"""The standard atmosphere (ICAO Doc 7488) below the tropopause, and airspeeds in it.

Heights are geopotential metres, temperatures kelvin, densities kg/m3, speeds m/s.
"""

from __future__ import annotations

import math

SEA_LEVEL_TEMPERATURE = 288.15
SEA_LEVEL_PRESSURE = 101325.0
SEA_LEVEL_DENSITY = 1.225
LAPSE = 0.0065
_GAS_CONSTANT = 287.05287
_EXPONENT = 9.80665 / (LAPSE * _GAS_CONSTANT)


def standard_temperature(altitude: float) -> float:
    """Temperature at a pressure altitude on a standard day."""
    return SEA_LEVEL_TEMPERATURE - LAPSE * altitude


def pressure(altitude: float) -> float:
    """Pressure at a pressure altitude, pascal."""
    return SEA_LEVEL_PRESSURE * math.pow(1.0 - LAPSE * altitude / SEA_LEVEL_TEMPERATURE, _EXPONENT)


def pressure_altitude(air_pressure: float) -> float:
    """The altitude at which a standard day has this pressure: the inverse of `pressure`."""
    ratio = air_pressure / SEA_LEVEL_PRESSURE
    return SEA_LEVEL_TEMPERATURE / LAPSE * (1.0 - math.pow(ratio, 1.0 / _EXPONENT))


def density(altitude: float, warmer: float = 0.0) -> float:
    """Air density at a pressure altitude.

    Args:
        altitude: pressure altitude, m.
        warmer: how much warmer than standard the day is, K.
    """
    return pressure(altitude) / (_GAS_CONSTANT * (standard_temperature(altitude) + warmer))


def density_altitude(altitude: float, warmer: float = 0.0) -> float:
    """The altitude at which a standard day has this density, m."""
    ratio = density(altitude, warmer) / SEA_LEVEL_DENSITY
    return SEA_LEVEL_TEMPERATURE / LAPSE * (1.0 - math.pow(ratio, 1.0 / (_EXPONENT - 1.0)))


def true_airspeed(indicated: float, air_density: float) -> float:
    """True from indicated airspeed, taken as calibrated and incompressible (below 200 kt)."""
    return indicated * math.sqrt(SEA_LEVEL_DENSITY / air_density)


def indicated_airspeed(true: float, air_density: float) -> float:
    """Indicated from true airspeed, the inverse of `true_airspeed`."""
    return true * math.sqrt(air_density / SEA_LEVEL_DENSITY)


def power_ratio(air_density: float) -> float:
    """Power of a normally aspirated engine over its sea-level power.

    Gagg and Ferrar, SAE Journal 1934 (from memory): P/P0 = 1.132 sigma - 0.132.
    """
    return 1.132 * air_density / SEA_LEVEL_DENSITY - 0.132
