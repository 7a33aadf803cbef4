"""Which maneuvers to rehearse today: those about to be forgotten, and all before the checkride.

How long a maneuver is remembered is the model of the library `fsrs`, with its usual parameters.
Every run that governs (`coach.debrief.governing`) is a review; nothing is stored, all follows from
the logbook each time.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta, timezone
from typing import Literal

from coach.debrief.governing import governs, why_not
from coach.debrief.next_run import GOOD, SLIPPED, share
from coach.logbook.past import Past
from coach.logbook.run import LoggedRun, Score
from coach.words import counted, days_from

LONGEST_DAYS = 30
"""However well it goes, a maneuver is flown once a month (common practice, no source)."""

NEW = 4
"""So many maneuvers are begun in a day, if there is time, so that most of the days are left for
flying them again (common practice, no source)."""

AGAIN = 3
"""So many maneuvers at most are named to be flown again in the time that is left: the shakiest."""

SHAKY_FIRST_DAYS = 3
"""Within these days before a checkride what was flown and is shaky comes before what was never
flown: too late to begin something, and in time to mend it (common practice, no source)."""

LAST_DAYS = 7
"""Within these days before a checkride all is flown once more (common practice, no source)."""


@dataclass(frozen=True)
class Due:
    """How well one maneuver is remembered.

    Attributes:
        last: the day of the latest run that governs.
        due: the day when the next is due.
        recall: the chance that it is still known today, 0 to 1.
        line: that run.
    """

    last: date
    due: date
    recall: float
    line: LoggedRun


@dataclass(frozen=True)
class Suggestion:
    """One maneuver to rehearse today, and why, in a sentence."""

    maneuver: str
    length_s: float
    reason: str
    due: Due | None


@dataclass(frozen=True)
class Practice:
    """What to rehearse today.

    Attributes:
        suggestions: in this order.
        more: what else is new and fits into the time that is left.
        again: what to fly once more where time is left even then, the shakiest first.
        note: "" or what does not work out.
    """

    suggestions: tuple[Suggestion, ...]
    more: tuple[Suggestion, ...]
    again: tuple[Suggestion, ...]
    note: str


def grade(line: LoggedRun) -> Literal[1, 2, 3, 4] | None:
    """A run as a review: 1 again, 2 hard, 3 good, 4 easy; None where it does not govern.

    By the share of its checkpoints that were on time: all of them easy, `GOOD` good, fewer hard,
    fewer than `SLIPPED` again.
    """
    score = governs(line)
    if score is None:
        return None
    on_time = share(score)
    if on_time < SLIPPED:
        return 1
    if on_time < GOOD:
        return 2
    return 4 if on_time == 1.0 else 3


def due(past: Past, today: date) -> Due | None:
    """How well a maneuver is remembered today, or None where no run of it governs."""
    from fsrs import Card, Rating, Scheduler

    # A maneuver is flown once and then not for a day or more, so there are no steps of minutes.
    scheduler = Scheduler(
        learning_steps=(),
        relearning_steps=(),
        maximum_interval=LONGEST_DAYS,
        enable_fuzzing=False,
    )
    card = Card(card_id=1)
    line = None
    for run in reversed(past.recent):
        graded = grade(run)
        if graded is not None:
            moment = run.started.astimezone(timezone.utc)
            card, _ = scheduler.review_card(card, Rating(graded), moment)
            line = run
    if line is None or card.last_review is None:
        return None
    last = line.started.date()
    return Due(
        last=last,
        due=card.due.astimezone(line.started.tzinfo).date(),
        # Days of the calendar: what was flown yesterday evening is a day old this morning.
        recall=scheduler.get_card_retrievability(card, card.last_review + (today - last)),
        line=line,
    )


def practice(
    pasts: Iterable[Past],
    lengths_s: Mapping[str, float],
    *,
    today: date,
    minutes: float,
    checkride: date | None = None,
    readiness: Mapping[str, float] | None = None,
    why: str = "",
) -> Practice:
    """What to rehearse today.

    First what is due, the shakiest first: the least product of the chance that it is still known
    and of its readiness, or of its last run's share on time where the readiness is not known. Then
    up to `NEW` of what was never flown; more where it takes more to
    bring everything in before a checkride, and for as many as that takes room is kept. In the last
    week before it, what was not flown in that week counts as well. Then what is not due, but is on
    time less often than a good run; in the last `SHAKY_FIRST_DAYS` this comes before all the rest,
    due or not. What room is left is for more that is new; and where nothing is, for flying
    something again, and if it was flown today already. Of what is new that comes first which was
    flown already, though not so that it counts.

    Args:
        pasts: one student's.
        lengths_s: every maneuver to be covered, in the order in which they are begun, and how long
            a rehearsal of each takes.
        why: what is said of a maneuver that was never flown besides that, a sentence or "".
        today: the student's own date.
        minutes: how much time there is.
        checkride: its date, today or later.
        readiness: by maneuver, 0 to 1, where it is known.
    """
    ready = readiness or {}
    flown = {past.maneuver: past for past in pasts}
    found = {name: due(past, today) for name, past in flown.items()}
    known = {name: state for name in lengths_s if (state := found.get(name)) is not None}
    on_time = {name: ready.get(name, share(_score(state))) for name, state in known.items()}
    shaky = sorted(known, key=lambda name: known[name].recall * on_time[name])
    late = [name for name in shaky if known[name].due <= today]
    early = [
        name
        for name in shaky
        if ready.get(name, 1.0) < GOOD and name not in late and known[name].last < today
    ]
    new = sorted(
        (name for name in lengths_s if name not in known), key=lambda name: name not in flown
    )
    missing = list(new)
    last_days = checkride - timedelta(days=LAST_DAYS) if checkride else date.max
    if today >= last_days:
        missing += [name for name in shaky if known[name].last < last_days]

    mend: list[str] = []
    if checkride and today >= checkride - timedelta(days=SHAKY_FIRST_DAYS):
        mend = [name for name in shaky if on_time[name] < GOOD and known[name].last < today]

    days = max(1, (checkride - today).days) if checkride else None
    needed = math.ceil(len(missing) / days) if days else 0
    more = NEW - needed
    chosen: list[str] = []
    for names, most in (
        (mend, len(mend)),
        (missing, needed),
        (late, len(late)),
        (new, more),
        (early, len(early)),
    ):
        left_s = 60.0 * minutes - sum(lengths_s[name] for name in chosen)
        chosen += _fitting([name for name in names if name not in chosen], most, lengths_s, left_s)
    left_s = 60.0 * minutes - sum(lengths_s[name] for name in chosen)
    more_new = _fitting([name for name in new if name not in chosen], len(new), lengths_s, left_s)
    left_s -= sum(lengths_s[name] for name in more_new)
    others = [name for name in shaky if name not in chosen]

    def suggested(name: str) -> Suggestion:
        state = known.get(name)
        if state is not None:
            reason = _reason(state, today, checkride, name in mend)
        else:
            reason = _reason_new(flown.get(name), today, checkride, why)
        return Suggestion(name, lengths_s[name], reason, state)

    return Practice(
        tuple(
            suggested(name)
            for name in dict.fromkeys([*mend, *late, *missing, *early])
            if name in chosen
        ),
        tuple(map(suggested, more_new)),
        tuple(
            Suggestion(name, lengths_s[name], _flown(known[name], today), known[name])
            for name in _fitting(others, AGAIN, lengths_s, left_s)
        ),
        _note(
            [lengths_s[name] for name in missing if name not in (*chosen, *more_new)], minutes, days
        ),
    )


def _fitting(
    names: Sequence[str], most: int, lengths_s: Mapping[str, float], room_s: float
) -> list[str]:
    """The first of these, no more than so many, that fit into the time there is."""
    found: list[str] = []
    for name in names:
        if len(found) < most and lengths_s[name] <= room_s:
            found.append(name)
            room_s -= lengths_s[name]
    return found


def _reason_new(past: Past | None, today: date, checkride: date | None, why: str) -> str:
    left = f", {counted((checkride - today).days, 'day')} to the checkride" if checkride else ""
    if past is None:
        return f"Never flown{left}.{why and f' {why}'}"
    line = past.recent[0]
    when = days_from(min(line.started.date(), today), today)
    return f"Flown {when}, {why_not(line)}, which does not count yet{left}."


def _reason(state: Due, today: date, checkride: date | None, shaky: bool) -> str:
    if state.due < today:
        when = f"Due for {counted((today - state.due).days, 'day')}"
    elif state.due == today:
        when = "Due today"
    elif checkride is not None and shaky:
        when = f"Shaky, {counted((checkride - today).days, 'day')} to the checkride"
    elif checkride is not None and state.last < checkride - timedelta(days=LAST_DAYS) <= today:
        when = f"Not flown in the last {LAST_DAYS} days before the checkride"
    else:
        when = f"Not due before {state.due}, but not ready yet"
    flown_then = _flown(state, today)
    return f"{when}: {flown_then[0].lower()}{flown_then[1:]}"


def _flown(state: Due, today: date) -> str:
    """How the latest run went, as a sentence."""
    when = days_from(min(state.last, today), today)
    score = _score(state)
    return f"Flown {when}, {score.on_time} of {score.checkpoints} checkpoints on time."


def _score(state: Due) -> Score:
    assert state.line.score is not None
    return state.line.score


def _note(left_s: Sequence[float], minutes: float, days: int | None) -> str:
    """What stays uncovered before the checkride however well the coming days are used."""
    if days is None or sum(left_s) <= 60.0 * minutes * (days - 1):
        return ""
    return (
        f"At {minutes:g} minutes a day not everything can be flown before the checkride: after "
        f"today {len(left_s)} of the maneuvers are left, {sum(left_s) / 60.0:.0f} minutes, and "
        f"{counted(days - 1, 'day')}."
    )
