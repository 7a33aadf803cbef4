"""The logbook and the next session as the page shows them: the terminal's figures, in words."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from coach import settings
from coach.callouts.support import support_words
from coach.debrief.debrief import Debrief, debrief
from coach.debrief.gauging import pace_words
from coach.debrief.governing import why_not
from coach.debrief.next_run import next_run
from coach.debrief.readiness import readiness
from coach.debrief.trend import trend
from coach.logbook.logbook import Logbook
from coach.logbook.past import Past
from coach.logbook.run import ENDINGS, LoggedRun
from coach.practice.judging import recent
from coach.practice.schedule import Practice, due
from coach.script.catalog import standards
from coach.settings import Settings
from coach.words import days_from


def flown(pasts: Sequence[Past], today: date) -> list[dict[str, Any]]:
    """What a student did of each maneuver, the latest flown first; see `coach.page.app`."""
    latest = sorted(pasts, key=lambda past: past.recent[0].started, reverse=True)
    return [_past(past, today) for past in latest]


def session(
    found: Practice, pasts: Sequence[Past], titles: Mapping[str, str], chosen: Settings
) -> list[dict[str, Any]]:
    """What to fly today, and how; see `coach.page.app`.

    Args:
        found: from `coach.rehearsal.today`.
        pasts: the student's.
        titles: every maneuver's, for people.
        chosen: the settings, which may have the support.
    """
    recent = {past.maneuver: past.recent for past in pasts}
    coming = []
    for one in (*found.suggestions, *found.more):
        run = next_run(recent.get(one.maneuver, ()))
        if chosen.support != "auto":
            run = replace(run, support=chosen.support)
        coming.append(
            {
                "maneuver": one.maneuver,
                "title": titles[one.maneuver],
                "minutes": round(one.length_s / 60.0, 1),
                "reason": one.reason,
                "support": run.support,
                "pace": run.pace,
                "how": run.words,
            }
        )
    return coming


def judged(logbook: Logbook, number: int, *, room: Collection[int] | None = None) -> Debrief:
    """The debrief of a run, with the student's runs before it; see `debrief`.

    Args:
        logbook: what holds it.
        number: of the run.
        room: the numbers of the student's runs in a room, where an instructor leads: no others are
            looked back at, for a name there is no proof of who flew those. None at home.
    """
    run = logbook.run(number)
    past = recent(logbook, run.maneuver, run.student)
    if room is not None:
        past = tuple(line for line in past if line.id in room)
    checkride = settings.load().asked_at
    limits = standards(run.maneuver, checkride)
    return debrief(run, past, led=room is not None, standards=limits, checkride=checkride)


def told(judged: Debrief) -> dict[str, Any]:
    """A run's debrief, how it ended in words, and what the hand held at each checkpoint."""
    found = judged.to_dict()
    found["run"]["ended_words"] = ENDINGS[judged.run.ended]
    for row, verdict in zip(found["checkpoints"], judged.verdicts, strict=True):
        angles = verdict.flown.angles if verdict.flown else ()
        row["held"] = {angle.of: angle.short for angle in angles}
    return found


def _past(past: Past, today: date) -> dict[str, Any]:
    coming = due(past, today)
    course = trend(past.recent)
    return {
        "maneuver": past.maneuver,
        "title": past.title,
        "runs": past.runs,
        "best": _line(past.best, today) if past.best else None,
        "recent": [_line(line, today) for line in past.recent],
        "shares": course.shares,
        "trend": course.words,
        "readiness": readiness(past.recent, today).sentence,
        "due": days_from(coming.due, today) if coming else None,
    }


def _line(line: LoggedRun, today: date) -> dict[str, Any]:
    score = line.score
    return {
        "id": line.id,
        "started": line.started.isoformat(),
        "when": days_from(line.started.date(), today),
        "how": f"{support_words(line.support)}, {pace_words(line.pace)}",
        "ended": line.ended,
        "ended_words": ENDINGS[line.ended],
        "not_counted": why_not(line),
        "checkpoints": score.checkpoints if score else 0,
        "on_time": score.on_time if score else 0,
    }
