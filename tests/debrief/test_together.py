"""Promises of what several students at one keyboard are told: a line and an advice for each."""

from __future__ import annotations

from dataclasses import replace

from rich.console import Console

from coach.debrief.debrief import Debrief, debrief
from coach.debrief.together import together
from tests.debrief import students
from tests.debrief.students import flown


def judged(name: str, number: int, taps_s: list[float], pace: float = 1.0) -> Debrief:
    return debrief(replace(flown(taps_s, pace=pace), student=name, id=number))


def shown(*debriefs: Debrief, kept: bool = True) -> list[str]:
    console = Console(width=80)
    with console.capture() as told:
        console.print(together(debriefs, kept=kept))
    return told.get().splitlines()


ADA = judged("Ada", 7, students.late_at_90(1))
BO = judged("Bo", 8, students.forgets_the_third(1))


def test_each_has_one_line_and_the_first_advice_of_their_own_debrief() -> None:
    lines = shown(ADA, BO)
    assert len(lines) <= 16
    told = " ".join(" ".join(lines).split())
    assert f"Ada 12/16 {ADA.largest[0]}" in told
    assert f"Bo 12/16 4 {BO.largest[0]}" in told
    assert f"Ada {ADA.next} Bo {BO.next}" in told
    assert "All of it: coach debrief 7 for Ada and coach debrief 8 for Bo." in told
    assert told.count("licensed instructor") == 1
    assert "All of it" not in " ".join(shown(ADA, BO, kept=False))


def test_that_a_run_does_not_count_is_said_once_for_all_whom_it_concerns() -> None:
    assert "does not count" not in " ".join(shown(ADA, BO))
    slow = [judged(name, 9, students.perfect(1), pace=0.5) for name in ("Ada", "Bo")]
    told = " ".join(" ".join(shown(*slow)).split())
    assert told.count("does not count") == 1 and "Ada and Bo: " not in told
    listened = judged("Bo", 8, [])
    assert f"Bo: {listened.not_counted}" in " ".join(" ".join(shown(ADA, listened)).split())
