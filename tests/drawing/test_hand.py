"""Promises of how a debrief's picture shows what a hand flew."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from matplotlib.markers import MarkerStyle

from coach.debrief.debrief import Debrief, debrief
from coach.debrief.gauging import gauged
from coach.drawing.debrief import panels
from coach.drawing.figure import NARROW, WIDE, blank
from coach.drawing.hand import MOST_DEG, Of, near_enough
from coach.drawing.plotting import Axes
from coach.hand.motion import Motion
from coach.logbook.run import Run
from coach.script.tolerance import Tolerance
from tests.debrief import students
from tests.debrief.students import RUN
from tests.hand.simulated import Simulated, Spoiled, late_nose, more_bank, more_pitch, reversed_bank

PITCHES = {"45": 14.0, "90": 0.0, "135": -11.0, "180": 0.0}
MOMENTS = tuple(replace(one, pitch_deg=PITCHES[one.name]) for one in RUN.moments)
ERRORS = (more_bank(16.8, 11.0), late_nose(1.4, 33.0, 66.0), reversed_bank(70.0, 95.0))
OF: tuple[Of, ...] = ("pitch", "bank")


def by_hand(*errors: Spoiled, seed: int = 3, **hand: object) -> Run:
    """The lazy eight flown with a phone, and tapped along."""
    run = replace(students.flown(students.late_at_90(1)), moments=MOMENTS)
    trace = run.trace
    plan = Motion(tuple(trace["t_s"]), tuple(trace["pitch_deg"]), tuple(trace["bank_deg"]))
    simulated = Simulated(plan, seed=seed, errors=errors, **hand)  # type: ignore[arg-type]
    return replace(run, motion=simulated.motion())


def drawn(judged: Debrief, wide: float = WIDE) -> list[Axes]:
    """The panels: errors, pitch and bank."""
    figure = blank(wide, 8.0)
    panels(figure, judged)
    figure.draw_without_rendering()
    return figure.axes


@pytest.mark.parametrize("pace", [1.0, 0.5])
@pytest.mark.parametrize("of", OF)
def test_the_band_is_what_the_judge_calls_on_time(of: Of, pace: float) -> None:
    limits = (Tolerance("bank", 5.0, 2.0, at=("90",)), Tolerance("pitch", 2.0, 4.0))
    tilted = (more_pitch(10.5, 9.0), more_pitch(89.0, -8.0))
    words = []
    for seed in range(2):
        run = replace(by_hand(*ERRORS, *tilted, seed=seed), tolerances=limits, pace=pace)
        found = gauged(run)
        assert found.hand
        own_s, _, low, high = near_enough(run, found.hand, of)
        for row in found.verdicts:
            assert row.flown
            angle = getattr(row.flown, of)
            least, most = (np.interp(row.planned_s, own_s, edge) for edge in (low, high))
            if min(abs(angle.deg - least), abs(angle.deg - most)) > 0.2:  # the trace has but 2 Hz
                assert (least < angle.deg < most) == (angle.word == "on time")
                words.append(angle.word == "on time")
    assert words.count(True) > 10 and words.count(False) > 2


def test_nothing_is_drawn_where_the_hand_was_not_seen() -> None:
    _, pitch, bank = drawn(debrief(by_hand(gaps=((40.0, 50.0),))))
    for axes in (pitch, bank):
        (flown,) = (line for line in axes.lines if line.get_label() == "flown")
        at_s, deg = np.asarray(flown.get_xdata()), np.asarray(flown.get_ydata())
        assert np.isnan(deg[(at_s > 40.1) & (at_s < 49.9)]).all()
        assert np.isfinite(deg[(at_s < 39.0) | (at_s > 51.0)]).all()


def test_the_worst_of_each_loop_is_written_and_no_more() -> None:
    for wide in (WIDE, NARROW):
        judged = debrief(by_hand(*ERRORS))
        _, pitch, bank = drawn(judged, wide)
        held = {(row.loop, row.name): row.flown.bank.deg for row in judged.verdicts if row.flown}
        worst = [f"{held[loop, '90']:.0f}°" for loop in (1, 3)]
        assert [text.get_text() for text in bank.texts] == worst
        for axes in (pitch, bank):
            boxes = [text.get_window_extent() for text in axes.texts]
            assert not any(one.overlaps(other) for one, other in combinations(boxes, 2))
            assert all(axes.get_window_extent().overlaps(box) for box in boxes)


def test_a_hand_in_time_and_a_tap_that_is_late_are_told_apart() -> None:
    top, *_ = drawn(debrief(by_hand()))
    marked = {str(line.get_label()): np.asarray(line.get_ydata()) for line in top.lines}
    assert np.abs(marked["hand's error"]).max() < 0.5
    assert marked["tap's error"].max() > 0.8


def test_a_phone_that_was_put_away_does_not_make_all_else_small() -> None:
    run = by_hand()
    motion = run.motion
    away = Motion(motion.time_s, motion.pitch_deg, (*motion.bank_deg[:-200], *([179.0] * 200)))
    *_, bank = drawn(debrief(replace(run, motion=away)))
    assert bank.get_ylim()[1] <= MOST_DEG


def test_what_was_not_perceived_has_a_mark_that_is_a_shape_and_no_letters() -> None:
    run = replace(by_hand(gaps=((40.0, 60.0),)), taps=())
    top, *_ = drawn(debrief(run))
    (mark,) = (line for line in top.lines if line.get_label() == "not perceived")
    assert np.size(mark.get_xdata()) > 1
    # Letters have dozens of corners; drawn without formulas, a dollar would be one of them.
    assert np.shape(MarkerStyle(mark.get_marker()).get_path().vertices)[0] < 12
