"""An airplane's own numbers, as they are said."""

import pytest

from coach.callouts.figures import spoken_out
from coach.callouts.own import FLAPS, GEAR, POWERS, SPEEDS, own, silent
from coach.callouts.said import words
from coach.callouts.wording import render, values
from coach.flight.airplane import Airplane, load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.plan import plan
from coach.script.catalog import maneuver
from coach.script.maneuver import SAYABLE, Callout, Maneuver
from coach.script.quantities import DEGREE


def flown(airplane: Airplane, script: Maneuver | None = None) -> Flight:
    script = script or maneuver("climb-at-constant-speed")
    return plan(script, airplane, conditions(Day(), script, airplane))


@pytest.fixture(scope="module")
def retractable() -> Flight:
    return flown(load("hillside-four"))


@pytest.fixture(scope="module")
def plain() -> Flight:
    """An airplane without flaps, whose gear is fixed."""
    return flown(load("hedgerow-two"))


def said(flight: Flight, phrasing: str) -> tuple[str, str]:
    phrase = render(phrasing, values(flight, flight.moments[0]))
    return phrase.text, phrase.spoken


def test_speeds_flaps_gear_and_settings_are_said_as_pilots_say_them(retractable: Flight) -> None:
    for phrasing, text, spoken in (
        ("{best_rate}.", "88 kt.", "Eighty eight knots."),
        ("{landing_flaps}, {gear_down}.", "Flaps 30, gear down.", "Flaps thirty, gear down."),
        ("{less_flaps}, {gear_up}.", "Flaps 20, gear up.", "Flaps twenty, gear up."),
        (
            "Power {pattern_power}.",
            "Power 19 inches, 2,300 rpm.",
            "Power nineteen inches, twenty three hundred r p m.",
        ),
    ):
        assert said(retractable, phrasing) == (text, spoken)


@pytest.mark.parametrize(
    ("written", "spoken"),
    [
        ("2,200 rpm", "twenty two hundred r p m"),
        ("2,000 rpm", "two thousand r p m"),
        ("2,350 rpm", "twenty three fifty r p m"),
        ("2,010 rpm", "two thousand ten r p m"),
        ("900 rpm", "nine hundred r p m"),
    ],
)
def test_revolutions_are_said_in_hundreds(written: str, spoken: str) -> None:
    assert spoken_out(written) == spoken


def test_power_is_said_as_what_it_is_set_by(retractable: Flight, plain: Flight) -> None:
    assert said(retractable, "Power {power}.")[0].endswith(" %.")
    text, spoken = said(plain, "Power {power}.")
    assert text.startswith("Power 2,")
    assert text.endswith(" rpm.")
    assert spoken.endswith("r p m.")


@pytest.mark.parametrize(
    ("phrasing", "text"),
    [
        ("{name}. {landing_flaps}. Trim.", "Climb. Trim."),
        ("{name}. Power back, {first_flaps}. Trim.", "Climb. Power back. Trim."),
        ("{gear_up}, trim, {flaps_up}.", "Trim."),
        ("Below {flaps_extended}, {first_flaps}: {name}.", "Climb."),
        ("{name} {gear_down}.", "Climb."),
        ("Check that {gear_down}. At 2,000 ft, level.", "At 2,000 ft, level."),
        ("{name}: {landing_flaps}, {gear_down}?", "Climb?"),
        ("{gear_down}.", ""),
    ],
)
def test_what_the_airplane_has_not_got_leaves_no_trace_in_a_sentence(
    plain: Flight, phrasing: str, text: str
) -> None:
    known = values(plain, plain.moments[0])
    known["name"] = render("climb", known)
    assert render(phrasing, known).text == text
    assert bool(render(phrasing, known).spoken) == bool(text)


def test_a_checkpoint_still_lands_on_its_name_where_a_part_is_left_out(plain: Flight) -> None:
    known = values(plain, plain.moments[0])
    phrase = render("{gear_up}. {name}, {less_flaps}.", known, landing=True)
    assert phrase.lands
    assert phrase.spoken == f"{phrase.lands}."


def test_a_callout_about_nothing_else_is_not_said_at_all(plain: Flight) -> None:
    script = plain.maneuver
    gear = Callout.model_validate({"at": {"leg": script.legs[0].name}, "say": "{gear_up}."})
    changed = script.model_copy(update={"callouts": (*script.callouts, gear)})
    flight = flown(plain.airplane, changed)
    told = [one.text for one in words(flight, "everything", (), niner=False).phrases]
    assert "" not in told
    assert "Gear up." in [
        one.text
        for one in words(
            flown(load("hillside-four"), changed), "everything", (), niner=False
        ).phrases
    ]


@pytest.mark.parametrize(
    ("steps", "told"),
    [
        ((), ("", "", "", "", "")),
        ((40,), ("", "", "flaps 40", "flaps up", "flaps up")),
        ((15, 30), ("flaps 15", "", "flaps 30", "flaps 15", "flaps up")),
        ((10, 20, 30), ("flaps 10", "flaps 20", "flaps 30", "flaps 20", "flaps up")),
        ((10, 20, 30, 40), ("flaps 10", "flaps 20", "flaps 40", "flaps 30", "flaps up")),
    ],
)
def test_flaps_go_down_step_by_step_and_up_one_before_the_last(
    steps: tuple[int, ...], told: tuple[str, ...]
) -> None:
    plane = load("meadow-four").model_copy(update={"flaps": tuple(step * DEGREE for step in steps)})
    assert tuple(own(plane)[name] for name in FLAPS) == told
    assert not silent(plane)


def test_every_one_of_them_may_be_named_in_a_script() -> None:
    known = {*SPEEDS, *FLAPS, *GEAR, *POWERS}
    assert known <= set(SAYABLE)
    assert known == set(own(load("meadow-four")))
