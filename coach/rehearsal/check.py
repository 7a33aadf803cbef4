"""Checking a script of one's own: read whole, and flown once."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Literal

from coach.brief.warnings import warnings
from coach.callouts.sheet import cue_sheet, phrases
from coach.callouts.support import SUPPORTS
from coach.flight import airplane as airplanes
from coach.flight.airplane import Airplane
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.doubts import doubts
from coach.flight.flight import Flight
from coach.flight.plan import plan
from coach.problems import Problem
from coach.rehearsal import warmup as warming
from coach.script import catalog, warmup
from coach.script.contents import first_key, text
from coach.script.maneuver import Anchor, Maneuver
from coach.script.reading import Sheet
from coach.script.template import Kind
from coach.script.warmup import Warmup
from coach.sound import landing
from coach.sound.voices import speak

KINDS: dict[Kind, type[Sheet]] = {"maneuver": Maneuver, "airplane": Airplane}
"""The kinds of script somebody writes, each named by its first key."""

CLOSEST_S = 3.0
"""Checkpoints closer together leave no time to hear one, say it and tap the next."""


def check(name: str, airplane: str) -> tuple[Maneuver | Airplane | Warmup, tuple[str, ...]]:
    """A script read whole, whichever kind it is; what is flown in it is flown once as well.

    Args:
        name: a file, or the name of a script of the library.
        airplane: which one flies a maneuver, by its name or file.

    Returns:
        The script, and what its author may not have meant, each a sentence; often nothing. Of a
        warm-up what is in it, and what this airplane cannot fly.

    Raises:
        Problem: what is wrong with it, in one sentence.
    """
    try:
        kind = _kind(name)
        if kind == "airplane":
            plane = airplanes.load(name)
            return plane, doubts(plane)
        if kind == "warmup":
            series = warmup.load(name)
            parts, left_out = warming.planned(series, airplane, Day())
            told = (f"Left out, {one}: {why}" for one, why in left_out.items())
            return series, (warming.summary(series, parts), *told)
        maneuver, plane = catalog.maneuver(name), airplanes.load(airplane)
        flight = plan(maneuver, plane, conditions(Day(), maneuver, plane))
    except Problem as problem:
        said = str(problem)
        names_it = said.startswith(name) or f"'{name}'" in said
        raise Problem(said if names_it else f"{name}: {said}") from None
    return maneuver, (*_remarks(flight), *_left_out(flight), *warnings(flight))


def _remarks(flight: Flight) -> Iterator[str]:
    """What is never reached, and what comes too soon after something else to be tapped."""

    def comes(anchor: Anchor) -> bool:
        loops = range(1, len(flight.sides) + 1)
        return any(flight.when(anchor, loop) is not None for loop in loops)

    for checkpoint in flight.maneuver.checkpoints:
        if not comes(checkpoint.anchor):
            yield f"The checkpoint '{checkpoint.name}' is never reached, and cannot be tapped."
    for callout in flight.maneuver.callouts:
        if callout.at.checkpoint is None and not comes(callout.at):
            yield f"'{callout.say[0]}' is never said: its moment is never reached."
    for one, other in pairwise(flight.moments):
        apart_s = other.time_s - one.time_s
        if apart_s < CLOSEST_S:
            yield (
                f"'{one.name}' and '{other.name}' come {apart_s:.1f} s after each other in loop "
                f"{one.loop}: checkpoints less than {CLOSEST_S:.0f} s apart are hard to tap."
            )
            return


def _left_out(flight: Flight) -> Iterator[str]:
    """What there is no room to say, with the usual voice."""
    for support, level in SUPPORTS.items():
        if wanted := phrases(flight, support=support) if level.kinds else []:
            texts = [phrase.spoken for phrase in wanted]
            clips = speak([*texts, *landing.words(wanted)]).clips
            sheet = cue_sheet(flight, landing.measures(wanted, clips), support=support)
            yield from (f"With {level.words}, {sentence}." for sentence in sheet.dropped)


def _kind(name: str) -> Kind | Literal["warmup"]:
    """The kind of a script, by the first key of its file or by the shelf its name stands on."""
    if not catalog.is_file_name(name):
        if name in catalog.names("warmups"):
            return "warmup"
        return "airplane" if name in catalog.names("airplanes") else "maneuver"
    first = first_key(text(Path(name)))
    if first == "warmup":
        return "warmup"
    for kind in KINDS:
        if first == kind:
            return kind
    if first is None:
        return "maneuver"  # whose reader says what is wrong with the file
    raise Problem(f"{name}: expected 'maneuver:', 'airplane:' or 'warmup:' as the first key.")
