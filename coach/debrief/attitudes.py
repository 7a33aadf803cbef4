"""What a hand held, in words."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Sequence

from coach.debrief.flown import Angle
from coach.words import side_of


def held(angles: Sequence[Angle]) -> str:
    """``"41° of bank where 30 belong"``; of several loops on average."""
    if angles[0].of == "pitch":
        there = _nose(_mean(angles, lambda one: one.deg))
        belongs = _nose(_mean(angles, lambda one: one.belongs_deg))
        if belongs == "level":
            return f"{there} where level belongs"
        return f"{there} where {belongs.removesuffix(' level')} belong"
    right = round(_mean(angles, lambda one: abs(one.belongs_deg)))
    if not right:
        sides = {side_of(one.deg) for one in angles}
        side = f" {sides.pop()}" if len(sides) == 1 else ""
        size = round(_mean(angles, lambda one: abs(one.deg)))
        return f"{size}° of{side} bank where the wings belong level"
    across = round(_mean(angles, lambda one: one.across_deg))
    if across < 0:
        return f"{-across}° of bank to the other side where {right} belong"
    return f"{across}° of bank where {right} belong"


def _nose(deg: float) -> str:
    """``"14° above level"``."""
    shown = round(deg)
    return f"{abs(shown)}° {'above' if shown > 0 else 'below'} level" if shown else "level"


def moves(angle: Angle) -> tuple[str, str]:
    """What moves at such a moment, and what to do for it to begin: ``"your nose came down"``."""
    if angle.of == "pitch":
        down = angle.rate_dps < 0.0
        return (
            f"your nose came {'down' if down else 'up'}",
            f"{'Lower' if down else 'Raise'} the nose",
        )
    grows = angle.rate_dps * angle.belongs_deg > 0.0
    if not round(angle.belongs_deg):
        return f"you rolled {side_of(angle.rate_dps)}", "Begin the roll"
    return (
        f"your bank came {'on' if grows else 'off'}",
        "Roll in" if grows else "Take the bank off",
    )


def remedy(angle: Angle) -> str:
    """What to do about an angle that is held wrong; saying it binds the word to the hand."""
    if angle.of == "pitch":
        return "say the pitch aloud on the way there, and put the nose on it"
    if not round(angle.belongs_deg):
        return "say “wings level” aloud as you come to it, and make them so"
    if angle.off_deg > 0.0:
        return "say the bank aloud on the way there, and stop the roll at it"
    return "say the bank aloud on the way there, and keep rolling until it is on"


def _mean(angles: Sequence[Angle], of: Callable[[Angle], float]) -> float:
    return statistics.fmean(map(of, angles))
