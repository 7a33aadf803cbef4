"""How long planning takes: the four-loop lazy eight from nothing."""

from typing import Any

from coach.flight.airplane import load
from coach.flight.day import Day, conditions
from coach.flight.plan import plan
from coach.script.library import maneuver


def test_plan_of_four_loops(benchmark: Any) -> None:
    script, plane = maneuver("lazy-eight"), load("meadow-four")
    day = conditions(Day(), script, plane)
    flight = benchmark(plan, script, plane, day)
    assert len(flight.moments) == 16
