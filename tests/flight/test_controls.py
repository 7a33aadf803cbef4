"""What elevator and ailerons are asked for: against JSBSim's own controls, and in words."""

import re
import sys
from dataclasses import replace

import numpy as np
import pytest

from coach.callouts.controls import say_aileron, say_elevator
from coach.flight.airplane import load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.moment import Moment
from coach.flight.plan import plan
from coach.script.catalog import maneuver


def planned(name: str, plane: str = "meadow-four", direction: str = "right") -> Flight:
    script, airplane = maneuver(name), load(plane)
    day = Day(loops=1, wind="calm", direction=direction)
    return plan(script, airplane, conditions(day, script, airplane))


@pytest.mark.skipif(sys.platform != "linux", reason="JSBSim is installed on Linux only")
@pytest.mark.parametrize("name", ["lazy-eight", "steep-turn-50"])
@pytest.mark.parametrize("model", ["c182", "c172p"])
def test_both_go_with_the_controls_of_jsbsim_along_the_same_flight(model: str, name: str) -> None:
    # The PyPI package jsbsim: it flies the same bank and nose, its controls do what that takes. To
    # either side, so that the propeller's torque, which the model leaves out, is no reason.
    from tests.reference import compare

    ours, theirs = [], []
    for direction in ("right", "left"):
        flight = planned(name, str(compare.HERE / f"{model}.yaml"), direction)
        outside = compare.flown(model, flight, alone=True)
        times = np.arange(1.0, flight.length_s - 1.0, 0.5)
        ours.append([flight.at(times)[one] for one in ("elevator", "aileron")])
        theirs.append(
            [
                np.interp(times, outside.t_s, trace - trace[:5].mean())
                for trace in (-outside.elevator, outside.aileron)
            ]
        )
        alike = [np.corrcoef(*pair)[0, 1] for pair in zip(ours[-1], theirs[-1], strict=True)]
        assert alike[0] > 0.95
        assert alike[1] > 0.85
    for side in (0, 1):
        against = ours[side][1][len(ours[side][1]) // 2] * theirs[side][1][len(ours[side][1]) // 2]
        assert against > 0.0  # halfway through: held against the overbank, by both


def test_where_a_steep_turn_is_held_the_aileron_is_against_the_overbank() -> None:
    # FAA-H-8083-3C, ch. 3 and 10, from memory: banked steeply an airplane tends to bank more.
    for direction in ("right", "left"):
        moment = planned("steep-turn-50", direction=direction).moments[1]
        assert say_aileron(moment) == "a little aileron against the overbank"
        assert moment.aileron * moment.bank_deg < 0.0
        assert say_elevator(moment) == "hold the back pressure"


def test_the_words_follow_the_hand_through_a_lazy_eight() -> None:
    flight = planned("lazy-eight")

    def said(loop_share: float) -> tuple[str, str]:
        moment = flight.moment(loop_share * flight.length_s, 1, "")
        return say_elevator(moment), say_aileron(moment)

    at_45, at_90 = flight.moments[0].time_s, flight.moments[1].time_s
    at_135 = flight.moments[2].time_s
    building = said(0.7 * at_45 / flight.length_s)
    assert building == ("a little more back pressure", "ailerons neutral")  # still shallow
    falling = said(0.5 * (at_90 + at_135) / flight.length_s)
    assert falling[0].startswith("ease off") and falling[1] == "a little aileron out of the turn"


STILL = Moment(1, "", 0.0, 0.0, 0.0, 0.0, 0.0, 90.0, 3000.0, 0.0, 1.0, 40.0, 0.0)


@pytest.mark.parametrize(
    ("held", "change", "words"),
    [
        (0.0, 0.0, "no elevator pressure"),
        (0.5, 0.0, "hold the back pressure"),
        (-0.5, 0.0, "hold the forward pressure"),
        (0.5, 0.02, "a little more back pressure"),
        (0.5, 0.2, "more back pressure"),
        (0.5, -0.02, "ease off a little back pressure"),
        (0.5, -0.2, "ease off the back pressure"),
        (-0.5, -0.2, "more forward pressure"),
        (-0.5, 0.2, "ease off the forward pressure"),
    ],
)
def test_every_way_of_the_elevator_has_its_words(held: float, change: float, words: str) -> None:
    assert say_elevator(replace(STILL, elevator=held, elevator_rate=change)) == words


@pytest.mark.parametrize(
    ("bank", "aileron", "roll", "words"),
    [
        (30.0, 0.0, 0.0, "ailerons neutral"),
        (0.0, 0.02, 9.0, "right aileron"),
        (0.0, -0.004, -2.0, "a little left aileron"),
        (30.0, 0.02, 9.0, "aileron into the turn"),
        (-30.0, -0.004, -2.0, "a little aileron into the turn"),
        (30.0, -0.02, -9.0, "aileron out of the turn"),
        (-30.0, 0.004, 0.0, "a little aileron against the overbank"),
        (60.0, -0.02, 0.1, "aileron against the overbank"),
        (16.0, -0.004, 0.0, "ailerons neutral"),  # shallow and held: it levels by itself
    ],
)
def test_every_way_of_the_ailerons_has_its_words(
    bank: float, aileron: float, roll: float, words: str
) -> None:
    moment = replace(STILL, bank_deg=bank, aileron=aileron, roll_dps=roll)
    assert say_aileron(moment) == words
    mirrored = replace(STILL, bank_deg=-bank, aileron=-aileron, roll_dps=-roll)
    other = {"right": "left", "left": "right"}
    assert say_aileron(mirrored) == re.sub(r"right|left", lambda side: other[side[0]], words)
