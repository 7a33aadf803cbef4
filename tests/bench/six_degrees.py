"""Every maneuver of the library, flown by JSBSim's six degrees of freedom.

    python -m tests.bench.six_degrees c182 2950

measures a JSBSim model at a gross weight in pounds (what the model's file loads, when left out) as
its handbook would, plans every maneuver for it with the coach, lets JSBSim fly them, to both sides,
with power prescribed and with the throttle left alone, and prints a Markdown table of the
differences, coach minus JSBSim, and one of the largest of each maneuver; what is beyond the goal is
in bold. `tests.reference.compare` tells how each is flown. Names after the weight choose maneuvers.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

from coach.flight.doubts import doubts
from coach.problems import Problem
from coach.script.catalog import names
from tests.reference.compare import TRIALS, Row, Trial, compare, largest, measured, table

GOAL = {"time_percent": 2.0, "speed_kt": 2.0, "altitude_ft": 30.0, "heading_deg": 3.0}


def trials(chosen: list[str]) -> list[Trial]:
    """The trials of the tests, the rest of the library, and all with the throttle left alone."""
    known = {Path(one.script).stem for one in TRIALS}
    rest = [Trial(name) for name in names("maneuvers") if name not in known]
    every = [one for one in (*TRIALS, *rest) if not chosen or Path(one.script).stem in chosen]
    return [*every, *(replace(one, alone=True) for one in every)]


def main(model: str, gross_lb: float | None, chosen: list[str]) -> None:
    """Measure, compare and print; a maneuver that cannot be flown is told in its sentence."""
    airplane = measured(model, gross_lb)
    for doubt in doubts(airplane):
        print(f"To be asked about these numbers: {doubt}\n")
    for alone in (False, True):
        rows: list[Row] = []
        for trial in trials(chosen):
            if trial.alone is alone:
                try:
                    rows += compare(model, airplane, trial)
                except Problem as problem:
                    print(f"{trial.name}: {problem}\n", flush=True)
        print("Throttle left alone" if alone else "Power prescribed", end="\n\n")
        print(table(rows, GOAL), end="\n\n", flush=True)
        print(table(largest(rows), GOAL), end="\n\n", flush=True)
        beyond = sum(any(abs(getattr(row, k)) > most for k, most in GOAL.items()) for row in rows)
        print(f"{len(rows)} checkpoints, {beyond} of them beyond the goal.\n", flush=True)


if __name__ == "__main__":
    try:
        file_id, *more = sys.argv[1:]
        gross = float(more.pop(0)) if more and more[0].replace(".", "").isdigit() else None
        main(file_id, gross, more)
    except (TypeError, ValueError):
        sys.exit(__doc__)
    except Problem as problem:
        sys.exit(str(problem))
