"""What the hands and feet do, in the trade's words; how much is little is a model's guess."""

from __future__ import annotations

import math

from coach.flight.moment import Moment

RUDDER_SIZES = (
    (0.08, "rudder neutral"),
    (0.25, "a touch of {}"),
    (0.55, "{}"),
    (math.inf, "more {}"),
)
"""What a rudder index is called, up to each size (a model's guess, like the index itself)."""

LEVEL_DEG = 3.0
"""With less bank there is no turn to roll into or out of."""

ROLLING_DPS = 0.4
"""A bank that changes more slowly is held."""

SHALLOW_DEG = 20.0
"""A bank that is held with less is shallow: there the airplane's own stability, which the model
leaves out, outdoes the overbank, and no aileron is called (FAA-H-8083-3C, ch. 3, from memory)."""

LITTLE, MUCH = 0.006, 0.05
"""A change of back pressure in a second, as a share of that at the stall: less than the one is
none, more than the other is much (a model's guess)."""

TRIMMED = 0.12
"""Back pressure within this of the trimmed one is no pressure to be held (a model's guess)."""

NO_AILERON, MUCH_AILERON = 0.0006, 0.009
"""Rolling moment coefficients of the ailerons: less than the one is none, more than the other is
much. Most of their travel gives some 0.06 (a model's guess)."""


def say_rudder(index: float) -> str:
    """A rudder index as words."""
    side = "right rudder" if index > 0.0 else "left rudder"
    return next(words.format(side) for size, words in RUDDER_SIZES if abs(index) < size)


def say_elevator(moment: Moment) -> str:
    """What the hand does with the elevator now, by how the lift that is needed changes."""
    change, held = moment.elevator_rate, moment.elevator
    pressure = "back pressure" if held > 0.0 else "forward pressure"
    if abs(change) < LITTLE:
        return "no elevator pressure" if abs(held) < TRIMMED else f"hold the {pressure}"
    much = abs(change) >= MUCH
    if change * held < 0.0:
        return f"ease off {'the' if much else 'a little'} {pressure}"
    return f"{'more' if much else 'a little more'} {pressure}"


def say_aileron(moment: Moment) -> str:
    """What the hand does with the ailerons now: roll, or hold off what the turn does."""
    given = moment.aileron
    if abs(given) < NO_AILERON:
        return "ailerons neutral"
    little = "a little " if abs(given) < MUCH_AILERON else ""
    if abs(moment.bank_deg) < LEVEL_DEG:
        return f"{little}{'right' if given > 0.0 else 'left'} aileron"
    into = math.copysign(1.0, moment.bank_deg)
    if given * into > 0.0:
        return f"{little}aileron into the turn"
    if abs(moment.bank_deg) < SHALLOW_DEG and abs(moment.roll_dps) <= ROLLING_DPS:
        return "ailerons neutral"
    if moment.roll_dps * into < -ROLLING_DPS:
        return f"{little}aileron out of the turn"
    return f"{little}aileron against the overbank"
