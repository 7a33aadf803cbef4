"""A warm-up: maneuvers rehearsed one after the other, such as on the morning of a checkride."""

from __future__ import annotations

import random
from collections.abc import Iterable
from typing import Annotated, Literal

from pydantic import Field

from coach.problems import nearest
from coach.script import pace as paces
from coach.script.catalog import find, names
from coach.script.contents import Place
from coach.script.legs import Word
from coach.script.quantities import Quantity
from coach.script.reading import Sheet, read


class Item(Sheet):
    """One maneuver of a warm-up.

    Attributes:
        maneuver: its name in the library.
        loops: how many; None for the whole figure.
        direction: the first turn; None for the day's or the maneuver's usual one.
        pace: 1 is the airplane's own tempo, below 1 slower.
    """

    maneuver: str
    loops: Annotated[int, Field(ge=1, le=16)] | None = None
    direction: Literal["right", "left"] | None = None
    pace: Annotated[float, Field(ge=paces.LEAST, le=paces.MOST)] = 1.0


class Warmup(Sheet):
    """What is rehearsed, in which order, and how long the pauses between are, s."""

    warmup: Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
    title: Word
    order: Literal["fixed", "shuffled"] = "fixed"
    pause: Annotated[float, Quantity("time", "0 s", "10 min")] = 15.0
    maneuvers: Annotated[tuple[Item, ...], Field(min_length=1, max_length=12)]

    def shuffled(self, seed: int) -> Warmup:
        """The same maneuvers in another order, which the seed decides."""
        order = random.Random(seed).sample(self.maneuvers, len(self.maneuvers))
        return self.model_copy(update={"maneuvers": tuple(order)})


def faults(warmup: Warmup) -> Iterable[tuple[Place, str]]:
    """Names of maneuvers that are not in the library."""
    known = names("maneuvers")
    for index, item in enumerate(warmup.maneuvers):
        if item.maneuver not in known:
            offer = nearest(item.maneuver, known)
            yield (
                ("maneuvers", index, "maneuver"),
                f"there is no maneuver '{item.maneuver}'{offer}",
            )


def load(name: str) -> Warmup:
    """A warm-up of the library, or of a file.

    Raises:
        Problem: there is none, or its script has a fault.
    """
    return read(find("warmups", name), Warmup, faults)
