"""Promises of the debrief over forty students of whom it is known what they did."""

from __future__ import annotations

import re

import pytest

from coach.debrief.debrief import Debrief, debrief
from coach.debrief.error import Error
from coach.debrief.largest import errors, notable
from tests.debrief.simulated import Made, Simulated, simulated

SEEDS = range(40)
NEARLY = 1.1
"""The coach reads the trace twice a second, and this reckoning twenty times."""


def told(judged: Debrief) -> list[Error]:
    """Every error, the largest first."""
    return errors(judged.verdicts)


def places(found: list[Error]) -> set[tuple[int, str]]:
    return {(one.loop, one.name) for error in found for one in error.verdicts}


def same(student: Simulated, error: Error) -> list[Made]:
    """The errors that were made where one is told."""
    where = {(one.loop, one.name) for one in error.verdicts}
    return [one for one in student.made if one.place in where]


@pytest.mark.parametrize("seed", SEEDS)
def test_no_advice_names_what_was_not_perceived_or_what_was_not_done(seed: int) -> None:
    student = simulated(seed)
    judged = debrief(student.run)
    assert places(told(judged)) <= {one.place for one in student.known}
    named = re.search(
        r"(?:leg to|forget|leave|Answer(?! every)|: at) ([^:(]+?)(?: \(|:| you | sooner)",
        judged.next,
    )
    if named:
        names = set(re.split(", | and ", named[1]))
        assert names <= {one.name for one in student.known}, judged.next
    for name, count in re.findall(r"(\S+) \(missed (\d+) of", judged.next):
        missed = [one for one in student.known if one.name.endswith(name) and one.kind == "missed"]
        assert int(count) <= len(missed), judged.next


@pytest.mark.parametrize("seed", SEEDS)
def test_the_first_error_told_is_the_largest_by_the_standard(seed: int) -> None:
    student = simulated(seed)
    found = told(debrief(student.run))
    if not found:
        return
    first, *others = [max(one.share for one in same(student, error)) for error in found]
    assert first * NEARLY >= max(others, default=0.0)


OPENINGS = {
    "tap": ("Work on the leg to {}: ", "You "),
    "missed": ("Do not forget ", "Do not leave ", "Make yourself heard first: "),
    "wrong": ("Learn the numbers again: at {} you said ",),
    "late answer": ("Answer {} sooner: ",),
    "name": ("Learn the order again: at {} ",),
}
NO_ERROR = ("Your ", "You are ", "You stay well within the limits", "Make yourself heard first: ")
EVERY = ("Tap every checkpoint: ", "Call every checkpoint: ", "Answer every question: ")


@pytest.mark.parametrize("first", range(0, 400, 50))
def test_the_one_thing_to_do_is_about_the_largest_error_or_the_habit_it_comes_of(
    first: int,
) -> None:
    for seed in range(first, first + 50):
        judged = debrief(simulated(seed).run)
        if not judged.largest:
            assert judged.next.startswith(NO_ERROR), (seed, judged.next)
            continue
        error = next(iter(notable(judged.verdicts)))
        assert error.words == judged.largest[0]
        if judged.next.startswith(EVERY):
            assert error.kind == "missed"
            assert 2 * judged.score.tapped < judged.score.checkpoints
        elif judged.next.startswith("Your "):  # taps or calls do not follow the maneuver
            assert "not follow the maneuver yet" in judged.next and error.kind in ("tap", "missed")
        else:
            openings = tuple(one.format(error.name) for one in OPENINGS[error.kind])
            assert judged.next.startswith(openings), (seed, judged.next, judged.largest)
            assert error.name in judged.next or error.kind == "tap"


@pytest.mark.parametrize("seed", [seed for seed in SEEDS if not simulated(seed).lost])
def test_with_a_good_microphone_every_error_is_told_that_is_beyond_its_limit(seed: int) -> None:
    student = simulated(seed)
    found = places(told(debrief(student.run)))
    assert {one.place for one in student.made if one.share > NEARLY} <= found
    assert found <= {one.place for one in student.made}
