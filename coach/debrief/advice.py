"""The one thing to work on next, chosen in a fixed order.

1. The run ended before its first checkpoint.
2. Hardly anything was perceived, and no error that was: what helps the coach to hear.
3. Nothing was done at all: what to do.
4. The largest error by the standard (`coach.debrief.largest`), of hand, words and taps together, or
   the habit that it comes of (`coach.debrief.habits`): most checkpoints missed, scattered taps, an
   own tempo, a bias, a side. A habit that means nothing in the airplane is no first advice.
5. Nothing is off by the standard, but few are on time: tempo, bias, taps too many, or what is
   furthest off in seconds.
6. Else it is good, and there is a next step.

What was not perceived is left out throughout; seconds are the student's own.
"""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence

from coach.callouts.support import SUPPORTS, support_words
from coach.debrief.error import Error, often
from coach.debrief.gauging import FEW_TAPS, Gauged, pace_words
from coach.debrief.habits import Way, bias, habit, tempo, way
from coach.debrief.largest import notable
from coach.debrief.next_run import GOOD, NextRun, share
from coach.debrief.perceived import mostly, what_helps
from coach.debrief.verdict import Verdict, by_name
from coach.logbook.run import Run
from coach.taps.timing import WINDOW_S
from coach.taps.unheard import NOT_SEEN
from coach.words import counted, listed

_CUES: Mapping[str, str] = {
    "early": "let it come to you",
    "late": "say its name one breath sooner",
    "off": "count its seconds aloud",
}

_EVERY: Mapping[Way, tuple[str, str]] = {
    "tap": ("Tap every checkpoint", f"tapped (within {WINDOW_S:.0f} s)"),
    "name": ("Call every checkpoint", f"called (within {WINDOW_S:.0f} s)"),
    "answer": ("Answer every question", "answered, and a guess teaches more than silence"),
}


def next_step(run: Run, found: Gauged, next_run: NextRun | None) -> str:
    """The one thing to work on next, as one sentence.

    Args:
        run: the run.
        found: it judged.
        next_run: how the next run will be flown; None where the student does not choose that, nor
            the loudspeaker, nor when a run ends: in a room, which an instructor leads.
    """
    led = next_run is None
    if not found.verdicts and led:
        return "Be ready to tap at the first checkpoint: this run ended before it came."
    if not found.verdicts:
        return "Fly on to the first checkpoint at least, so that there is something to debrief."
    heard = [verdict for verdict in found.verdicts if verdict.word != "not perceived"]
    worst = next(iter(notable(heard, found.hand)), None)
    return (
        _not_heard(found, heard, worst)
        or _nothing_done(found, heard, led=led)
        or (worst and _about(worst, found, heard, led=led))
        or _closer(found, heard, led=led)
        or _short(run, heard, led=led)
        or _good(run, found, next_run)
    )


def _not_heard(found: Gauged, heard: Sequence[Verdict], worst: Error | None) -> str | None:
    """For a student half of whom was lost, unless an error is known for sure."""
    lost = len(found.verdicts) - len(heard)
    known = worst is not None and worst.kind not in ("missed", "unanswered")
    if not lost or known or 2 * lost < len(found.verdicts):
        return None
    done = sum(verdict.word != "missed" for verdict in heard)
    missed = listed(list(dict.fromkeys(one.name for one in heard if one.word == "missed")))
    perhaps = f", and {missed} may have been lost as well" if missed else ""
    by_eye = mostly(found.verdicts) == NOT_SEEN
    first, came = ("seen", "were seen") if by_eye else ("heard", "came through")
    return (
        f"Make yourself {first} first: only {done} of {counted(len(found.verdicts), 'checkpoint')} "
        f"{came}{perhaps}, so {what_helps(found.verdicts)}."
    )


def _nothing_done(found: Gauged, heard: Sequence[Verdict], *, led: bool) -> str | None:
    if found.timing.extra or any(verdict.word != "missed" for verdict in heard):
        return None
    return (
        f"{'Tap' if led else 'Press the space bar'} the moment you reach each checkpoint, where "
        "the tone sounds, so that your timing can be debriefed."
    )


def _about(error: Error, found: Gauged, heard: Sequence[Verdict], *, led: bool) -> str:
    """What to do about an error, or about the habit that it comes of."""
    some, times = by_name(heard)[error.name], often(len(error.verdicts))
    if error.kind == "missed":
        return habit(error, found, led=led) or _every(found, heard) or _missed(found, heard)
    if error.kind == "wrong":
        return (
            f"Learn the numbers again: at {error.name} you said {error.what}{times}, so read them "
            "in the brief and say them aloud before you fly."
        )
    if error.kind == "late answer":
        return (
            f"Answer {error.name} sooner: you began after it had come{times}, so say its numbers "
            "aloud a few times before you fly."
        )
    if error.kind == "name":
        said = error.verdicts[0].misnamed[0]
        return (
            f"Learn the order again: at {error.name} you said “{said}”{times}, so say the "
            "checkpoints' names aloud, one after the other, before you fly."
        )
    if error.kind == "unanswered":
        return (
            f"Answer the question for {error.name} too, once it is over: nothing was heard after "
            f"it{times}."
        )
    return habit(error, found, led=led) or error.do or _leg(error, some)


def _every(found: Gauged, heard: Sequence[Verdict]) -> str | None:
    """For a student who missed most of it."""
    done = sum(verdict.word != "missed" for verdict in heard)
    if 2 * done >= len(heard):
        return None
    every, was = _EVERY[way(found)]
    return f"{every}: {done} of {len(heard)} {'was' if done == 1 else 'were'} {was}."


def _missed(found: Gauged, heard: Sequence[Verdict]) -> str:
    named = by_name(heard)
    missed = {
        name: sum(verdict.word == "missed" and not verdict.unanswered for verdict in some)
        for name, some in named.items()
    }
    worst = sorted((name for name in missed if missed[name]), key=lambda name: -missed[name])[:3]
    if all(len(named[name]) == 1 for name in worst):
        names = f"{listed(worst)} (missed)"
    else:
        names = listed(
            [
                f"{name} (missed {missed[name]} of {counted(len(named[name]), 'time')})"
                for name in worst
            ]
        )
    its, it = ("its", "it") if len(worst) == 1 else ("their", "them")
    if way(found) == "answer":
        return f"Do not leave {names} unanswered: say {its} numbers aloud before you fly."
    name = "name" if len(worst) == 1 else "names"
    return f"Do not forget {names}: say {its} {name} aloud while you are on the way to {it}."


def _leg(error: Error, some: Sequence[Verdict]) -> str:
    """About a tap: of the leg where it is far off in half of the loops, else of the one slip."""
    (worst,) = error.verdicts
    tapped = [one.error_s for one in some if one.error_s is not None]
    off = [one.verdicts[0].error_s or 0.0 for one in notable(some) if one.kind == "tap"]
    there = worst.in_the_airplane
    if len(off) < 2 or 2 * len(off) < len(tapped):
        which = f"in loop {worst.loop} you were" if len(some) > 1 else "you were"
        means, when = there and f", which is {there}", worst.timed or "late"
        return (
            f"Work on the leg to {error.name}: {which} {abs(worst.error_s or 0.0):.1f} s "
            f"{when} there{means}, so {_CUES[when]}."
        )
    size = statistics.fmean(map(abs, off))
    mean = statistics.fmean(off)
    # Called early or late only where most of its error goes one way.
    word = "off" if abs(mean) < 0.5 * size else "early" if mean < 0 else "late"
    loops = "on average" if len(off) == len(some) else f"in {len(off)} of {len(some)} loops"
    return (
        f"Work on the leg to {error.name}: you are {size:.1f} s {word} there {loops}"
        f"{there and f', at worst {there}'}, so {_CUES[word]}."
    )


def _closer(found: Gauged, heard: Sequence[Verdict], *, led: bool) -> str | None:
    """Where nothing is off by the standard, but few are on time."""
    score = found.score
    if not score.checkpoints or share(score) >= GOOD:
        return None
    if words := tempo(found.timing) or bias(found.timing, led=led):
        return words
    if extra := len(found.timing.extra):
        return f"Tap only where a checkpoint is: {counted(extra, 'tap')} belonged to none."
    off = [verdict for verdict in heard if verdict.meaning]
    if not off:
        return None
    worst = max(off, key=lambda verdict: abs(verdict.error_s or 0.0))
    return (
        "You stay well within the limits, so now come closer to the moment: at "
        f"{worst.name} you were {abs(worst.error_s or 0.0):.1f} s {worst.timed}."
    )


def _short(run: Run, heard: Sequence[Verdict], *, led: bool) -> str | None:
    """Of a run that was stopped after few checkpoints there is no more to say."""
    if run.ended == "finished" or len(heard) > FEW_TAPS:
        return None
    few = "is" if len(heard) == 1 else "are"
    on = "Tap on in the next run" if led else "Fly on further next time"
    return f"{on}: {counted(len(heard), 'checkpoint')} {few} too few to say more."


def _good(run: Run, found: Gauged, next_run: NextRun | None) -> str:
    good = "Your answers are good" if way(found) == "answer" else "Your timing is good"
    if 2 * found.score.flown > found.score.checkpoints:
        good = "Your hand is good"
    early = run.ended != "finished" and len(found.verdicts) < len(run.moments)
    if next_run is None:
        return f"{good}{' as far as you flew' if early else ''}: fly it just as well next time."
    if early:
        return f"{good} as far as you flew: fly it to the end next time."
    if next_run.pace > run.pace:
        return f"{good} at this pace: fly it {pace_words(next_run.pace)} next time."
    if run.support in SUPPORTS and next_run.support != run.support:
        return f"{good}: fly it with {support_words(next_run.support)} next time."
    if run.support in [*SUPPORTS][:-1]:
        return f"{good}: fly it just as well once more, and the coach will say less."
    return (
        f"{good}: change one thing next time, the side you turn to first, the wind or the weight."
    )
