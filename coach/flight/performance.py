"""What the physics needs to know of an airplane."""

from __future__ import annotations

import math
from dataclasses import dataclass

from coach.flight.propeller import Propeller

WITH_TAIL = 1.055
"""Lift slope of the whole airplane over its wing's: fuselage and tail lift as well.

Measured on JSBSim's model c182: 5.07 per radian, trimmed. For another airplane a model's guess.
"""


@dataclass(frozen=True)
class Performance:
    """What the physics needs, derived from a handbook's numbers.

    Attributes:
        wing_area: m2.
        least_drag: least CD of the parabolic polar, without the propeller's.
        least_drag_lift: the CL of that.
        induced_drag: k of the same: CD = least_drag + k (CL - least_drag_lift)^2.
        greatest_lift: CL at the stall.
        lift_slope: CL per radian of angle of attack.
        cruise_lift: CL in cruise, where the body axis is taken to lie along the airflow.
        propeller: engine and propeller.
    """

    wing_area: float
    least_drag: float
    least_drag_lift: float
    induced_drag: float
    greatest_lift: float
    lift_slope: float
    cruise_lift: float
    propeller: Propeller

    def drag_coefficient(self, lift_coefficient: float) -> float:
        """CD of the polar."""
        beyond = lift_coefficient - self.least_drag_lift
        return self.least_drag + self.induced_drag * beyond**2

    @property
    def windmill_drag(self) -> float:
        """What a propeller without power adds to CD."""
        return self.propeller.drag_area / self.wing_area


def lift_slope(aspect_ratio: float) -> float:
    """CL per radian of a straight wing (Helmbold's formula, from memory)."""
    return 2.0 * math.pi * aspect_ratio / (2.0 + math.sqrt(4.0 + aspect_ratio**2))
