"""Which runs govern what follows from a logbook, and why another one does not.

A run governs that went to its end, at full pace, and that the student flew by hand, tapped, named
or answered in. The best, the trend, readiness and the day a maneuver is due go by these alone, and
so does how soon the coach says less: one that was stopped says nothing about the rest, one that
nothing was done in was listened to, and one at another pace was another task. The others are kept,
shown and debriefed, and each says why it does not count. Only the next step of pace, and more
support after a slip, follow from a run at another pace as well (`coach.debrief.next_run`).
"""

from __future__ import annotations

from coach.debrief.gauging import Summary, pace_words, scored
from coach.logbook.run import Score


def governs(run: Summary) -> Score | None:
    """The score of a run that governs; None of one that does not."""
    return tells(run) if run.pace == 1.0 else None


def tells(run: Summary) -> Score | None:
    """The score of a run that says something about the student, at whatever pace; else None."""
    found = scored(run)
    return found if run.ended == "finished" and found and found.tapped else None


def why_not(run: Summary) -> str:
    """Why a run does not govern, in a few words: ``"stopped early"``; "" where it does."""
    if governs(run):
        return ""
    if run.ended != "finished":
        return "stopped early" if run.ended == "stopped" else run.ended
    return pace_words(run.pace) if tells(run) else "without taps"


def not_counted(run: Summary) -> str:
    """That a run does not govern, and why: a sentence; "" where it does."""
    why = why_not(run)
    if why == "without taps":
        why = "no tap, word or hand was perceived in it"
    elif why:
        why = f"it was {'flown ' if run.ended == 'finished' else ''}{why}"
    return why and (f"This run does not count for trend, readiness or the day it is due: {why}.")
