"""What somebody chooses on the page: a maneuver, an airplane, the day, and how it is heard."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from coach.callouts.support import SupportChoice
from coach.page.server.names import LONGEST
from coach.page.server.replies import Message
from coach.problems import Problem
from coach.script import pace as paces
from coach.shelf import AIRPLANE

LONGEST_VALUE = 40
MOST_LOOPS = 16

Written = Annotated[str, StringConstraints(max_length=LONGEST_VALUE)]


class InForm(Problem):
    """What cannot be flown, with the field of the form that is at fault."""

    def __str__(self) -> str:
        said = self.named(self.field.replace("_", " "))
        return said[:1].upper() + said[1:]


class Given(Message):
    """The day as a student writes it; an empty text leaves it to the script and the airplane."""

    weight: Written = ""
    altitude: Written = ""
    ground: Written = ""
    altimeter: Written = ""
    temperature: Written = ""
    wind: Written = ""
    heading: Written = ""
    entry_speed: Written = ""
    direction: Literal["", "right", "left"] = ""
    loops: Annotated[int, Field(ge=1, le=MOST_LOOPS)] | None = None


class Chosen(Message):
    """What is to be flown, and how it is heard; the body of several requests as well.

    Attributes:
        maneuver: its name in the library.
        airplane: its name in the library.
        day: the conditions.
        support: how much the coach says; "auto" is as the settings and the last runs have it.
        pace: 1 is the airplane's own tempo.
        student: whose runs decide the support, where it is "auto"; "" for the one without a name.
    """

    maneuver: Annotated[str, StringConstraints(max_length=60)]
    airplane: Annotated[str, StringConstraints(max_length=60)] = AIRPLANE
    day: Given = Given()
    support: SupportChoice = "auto"
    pace: Annotated[float, Field(ge=paces.LEAST, le=paces.MOST)] = 1.0
    student: Annotated[str, StringConstraints(max_length=LONGEST)] = ""
