"""What somebody chooses on the page: a maneuver, an airplane, the day, and how it is heard."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints, create_model

from coach.callouts.support import SupportChoice
from coach.flight.day import CHOICES, Choice
from coach.page.server.names import LONGEST
from coach.page.server.replies import Message
from coach.problems import Problem
from coach.script import pace as paces
from coach.script.standards import Checkride
from coach.shelf import AIRPLANE

LONGEST_VALUE = 40

Written = Annotated[str, StringConstraints(max_length=LONGEST_VALUE)]


class InForm(Problem):
    """What cannot be flown, with the field of the form that is at fault."""

    def __str__(self) -> str:
        said = self.named(self.field.replace("_", " "))
        return said[:1].upper() + said[1:]


def _field(choice: Choice) -> Any:
    """What a choice of the day may be in the form, and what it is there where it is not given."""
    if choice.whole:
        return Annotated[int, Field(ge=choice.least, le=choice.most)] | None, None
    return (Literal[tuple(choice.words)] if choice.words else Written), ""


Given = create_model(
    "Given",
    __base__=Message,
    __doc__="The day as a student writes it; an empty text leaves it to script and airplane.",
    **{name: _field(choice) for name, choice in CHOICES.items()},
)


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


class Learns(Message):
    """The checkride that somebody learns for; "" for none in particular."""

    checkride: Literal["", Checkride]
