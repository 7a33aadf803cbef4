"""The planner: a script flown by this airplane on this day, or one sentence why it cannot be."""

from __future__ import annotations

import numpy as np

from coach.flight.airplane import Airplane
from coach.flight.conditions import Conditions
from coach.flight.flight import Flight
from coach.flight.search import Search
from coach.problems import Problem
from coach.script.maneuver import Maneuver

UNDER_FT = 20.0
"""How far below the ground a maneuver that ends there may come out, ft."""


def plan(maneuver: Maneuver, airplane: Airplane, conditions: Conditions) -> Flight:
    """The maneuver as this airplane flies it on this day.

    Raises:
        Problem: a wish with ``is`` stays out of reach, or the airplane would stall or meet the
            ground; the sentence says which, and by how much.
    """
    try:
        with np.errstate(divide="raise", over="raise", invalid="raise"):
            flight = Search(maneuver, airplane, conditions).plan()
    except (ArithmeticError, ValueError):  # Python's physics has several names for it
        raise Problem(
            f"{maneuver.title} cannot be flown like this: no airplane follows what its legs ask "
            "for, and the model's numbers run away."
        ) from None
    table = flight.at(flight.recorded("time"))
    margin, height = table["stall_margin_kt"], table["height_ft"]
    if margin.min() <= 0.0 and not maneuver.may_stall:
        when = float(flight.recorded("time")[margin.argmin()])
        raise Problem(
            f"{maneuver.title} cannot be flown like this: {airplane.title} would stall after "
            f"{when:.0f} s; try a lower weight, a lower altitude or another entry speed."
        )
    if height.min() < -UNDER_FT:
        when = float(flight.recorded("time")[(height < -UNDER_FT).argmax()])
        raise Problem(
            f"{maneuver.title} cannot be flown like this: {airplane.title} would meet the ground "
            f"after {when:.0f} s; begin it higher."
        )
    return flight
