"""How long planning takes, and how that compares with JSBSim merely flying the same loops.

Run with ``pytest tests/bench -o addopts= -s``; nothing here is part of the ordinary tests.
"""

import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from coach.flight.airplane import load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.plan import plan
from coach.script.catalog import maneuver
from coach.script.quantities import HORSEPOWER
from coach.shelf import shipped

LIBRARY = sorted(path.stem for path in shipped("scripts").glob("maneuvers/*.yaml"))


def test_plan_of_four_loops(benchmark: Any) -> None:
    script, plane = maneuver("lazy-eight"), load("meadow-four")
    day = conditions(Day(), script, plane)
    flight = benchmark(plan, script, plane, day)
    assert len(flight.moments) == 16


def test_the_whole_library_is_planned_within_2_and_a_half_seconds() -> None:
    # Of the processor's time: what else a machine is busy with is no matter of the planner's.
    plane, took = load("meadow-four"), {}
    for name in LIBRARY:
        began = time.process_time()
        script = maneuver(name)
        plan(script, plane, conditions(Day(), script, plane))
        took[name] = time.process_time() - began
    for name, seconds in sorted(took.items(), key=lambda one: -one[1]):
        print(f"{seconds:8.3f} s  {name}")
    print(f"{sum(took.values()):8.3f} s  the whole library, {len(took)} scripts")
    assert sum(took.values()) < 2.5


@pytest.mark.skipif(sys.platform != "linux", reason="JSBSim is installed on Linux only")
def test_planning_costs_no_more_than_three_tenths_of_flying_the_loops_with_jsbsim() -> None:
    from tests.reference.jsbsim_flight import fly

    script, plane = maneuver("lazy-eight"), load("tests/reference/c182.yaml")
    day = conditions(Day(weight="2700", altitude="5000"), script, plane)
    flight = plan(script, plane, day)
    assert len(flight.sides) == 4
    times = np.arange(0.0, flight.length_s, 0.05)
    wanted = flight.at(times)
    power = flight.power * plane.engine.rated_power / HORSEPOWER

    def jsbsim(until_s: float) -> None:
        part = times <= until_s
        fly(
            "c182", times[part], wanted["pitch_deg"][part], wanted["bank_deg"][part],
            entry_ias_kt=flight.entry_speed_kt, altitude_ft=5000.0, weight_lb=2700.0,
            power_hp=power, level_first_s=0.0,
        )  # fmt: skip

    # Loading and trimming the model is not flying it: a flight of a second is taken off.
    planning, whole, second = _quickest(
        lambda: plan(script, plane, day), lambda: jsbsim(flight.length_s), lambda: jsbsim(1.0)
    )
    flying = whole - second
    print(
        f"planning four loops {planning:.3f} s, JSBSim flying their {flight.length_s:.0f} s at "
        f"120 Hz {flying:.3f} s: ratio {planning / flying:.2f}"
    )
    assert planning <= 0.3 * flying


def _quickest(*jobs: Callable[[], object]) -> list[float]:
    """The shortest of several runs of each job, s, in turn, so that a busy moment meets them all."""
    found: list[list[float]] = [[] for _ in jobs]
    for _ in range(7):
        for job, took in zip(jobs, found, strict=True):
            began = time.perf_counter()
            job()
            took.append(time.perf_counter() - began)
    return [min(took) for took in found]
