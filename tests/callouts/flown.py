"""Flights of the library, and what a voice of even words makes of their phrases."""

from functools import cache

from coach.callouts.cuesheet import Cue, CueSheet, Measure, Phrase
from coach.flight.airplane import load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.plan import plan
from coach.script.catalog import maneuver
from coach.shelf import shipped

SCRIPTS = sorted(path.stem for path in shipped("scripts").glob("maneuvers/*.yaml"))
PLANES = sorted(path.stem for path in shipped("scripts").glob("airplanes/*.yaml"))


@cache
def flown(name: str, loops: int | None = None, plane: str = "meadow-four") -> Flight:
    script, airplane = maneuver(name), load(plane)
    return plan(script, airplane, conditions(Day(loops=loops), script, airplane))


def spoken(sheet: CueSheet) -> list[tuple[Cue, Phrase]]:
    return [(cue, cue.phrase) for cue in sheet.cues if cue.phrase]


def voice(phrase: Phrase, seconds_per_word: float) -> Measure:
    """A voice whose words are evenly long, after an onset of 30 ms."""
    before = phrase.spoken.partition(phrase.lands)[0] if phrase.lands else ""
    count, skipped = len(phrase.spoken.split()), len(before.split())
    return Measure(0.03 + seconds_per_word * count, 0.03 + seconds_per_word * skipped)
