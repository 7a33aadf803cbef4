"""What the coach makes of a student's words: its one judge, over a run with nothing else in it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timezone

from coach.debrief.gauging import gauged
from coach.ears.spoken import Spoken
from coach.flight.moment import Moment
from coach.logbook.run import Run


@dataclass(frozen=True)
class Answer:
    """The verdict on one checkpoint.

    Attributes:
        moment: its index.
        word: as in the debrief, but "wrong value" where a number is wrong.
        hesitation_s: from its question to the answer, None where there was none.
    """

    moment: int
    word: str
    hesitation_s: float | None


def judge(
    moments: Sequence[Moment], asked: Iterable[int], spoken: Iterable[Spoken], *, until_s: float
) -> tuple[Answer, ...]:
    """One verdict for each checkpoint that the run got to.

    Args:
        moments: the checkpoints.
        asked: indices of those that a question asks about.
        spoken: what was said, in time.
        until_s: how far the run got, on the flight's clock.
    """
    questions = set(asked) or range(len(moments))
    run = Run(
        maneuver="",
        title="",
        airplane="",
        started=datetime(2031, 5, 4, tzinfo=timezone.utc),
        moments=tuple(
            one if index in questions else replace(one, asks=())
            for index, one in enumerate(moments)
        ),
        trace={},
        taps=tuple(tap for one in spoken for tap in one.taps),
        reached_s=until_s,
    )
    places = {(one.loop, one.name): index for index, one in enumerate(moments)}
    return tuple(
        Answer(
            places[row.loop, row.name],
            "wrong value" if row.wrong else row.word,
            row.hesitation_s,
        )
        for row in gauged(run).verdicts
    )
