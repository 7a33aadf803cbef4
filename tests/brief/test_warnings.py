"""What is dangerous in a flight, told before it is flown."""

from functools import cache

import numpy as np
import pytest

from coach.brief.board import board
from coach.brief.warnings import warnings
from coach.callouts.said import words
from coach.flight.airplane import Airplane, load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.plan import plan
from coach.script.catalog import maneuver
from coach.script.quantities import KNOT
from coach.shelf import shipped


@cache
def flown(name: str, airplane: str = "meadow-four", day: Day | None = None) -> Flight:
    return with_airplane(name, load(airplane), day or Day())


def with_airplane(name: str, plane: Airplane, day: Day) -> Flight:
    script = maneuver(name)
    return plan(script, plane, conditions(day, script, plane))


def told(flight: Flight, word: str) -> list[str]:
    return [sentence for sentence in warnings(flight) if word in sentence]


@pytest.mark.parametrize(
    "airplane", ["hedgerow-two", "hillside-four", "meadow-four", "orchard-two"]
)
@pytest.mark.parametrize("name", ["eights-on-pylons", "unusual-attitude-nose-low", "steep-turn-45"])
def test_a_speed_above_maneuvering_speed_under_load_is_warned_of_and_no_other(
    name: str, airplane: str
) -> None:
    # Above maneuvering speed a full pull overloads the airplane before the wing stalls
    # (FAA-H-8083-25 ch. 5); it falls with the root of weight.
    flight = flown(name, airplane, Day(wind="quartering@25"))
    table = flight.table(20.0)
    gross = flight.airplane.weights.gross
    limit = flight.airplane.speeds.maneuvering * (flight.conditions.mass / gross) ** 0.5 / KNOT
    # 1.1 g is a turn of 25 degrees: load factor 1 / cos(bank), FAA-H-8083-25 ch. 5.
    loaded = table["ias_kt"][table["load_factor"] > 1.1]
    found = told(flight, "above maneuvering speed, which is")
    assert bool(found) == (loaded.max(initial=0.0) > limit + 1.0)
    if found:
        assert f"Under load the speed reaches {loaded.max():.0f} knots at 1." in found[0]
        assert f"{limit:.0f} knots at this weight" in found[0]


def test_what_is_warned_of_stands_in_the_brief_and_is_heard_before_the_start() -> None:
    flight = flown("unusual-attitude-nose-low")
    (sentence,) = told(flight, "above maneuvering speed")
    assert sentence in board(flight)["warnings"]  # which the page shows
    heard = words(flight, "everything", warnings(flight), niner=False).introduction
    assert sentence in [phrase.text for phrase in heard]
    (spoken,) = (phrase.spoken for phrase in heard if phrase.text == sentence)
    assert "knots at one point" in spoken


def test_the_red_line_and_the_load_that_the_airplane_is_made_for_are_warned_of() -> None:
    plane = load("meadow-four")
    low = plane.speeds.model_copy(update={"never_exceed": 110 * KNOT})
    red = with_airplane(
        "unusual-attitude-nose-low", plane.model_copy(update={"speeds": low}), Day()
    )
    fastest = red.table(20.0)["ias_kt"].max()
    assert told(red, "never exceed") == [
        f"The speed reaches {fastest:.0f} knots; never exceed 110 in {plane.title}."
    ]
    assert not told(flown("unusual-attitude-nose-low"), "never exceed")
    # At maneuvering speed the stall comes at the limit load: (68 / 52)^2 = 1.7 g.
    weak = plane.speeds.model_copy(update={"maneuvering": 68 * KNOT})
    weak_plane = plane.model_copy(update={"speeds": weak})
    turn = with_airplane("steep-turn-50", weak_plane, Day(entry_speed="68"))
    assert not told(turn, "made for")
    day = Day(entry_speed="100")
    spiral = with_airplane("unusual-attitude-nose-low", weak_plane, day)
    loads = spiral.table(20.0)["load_factor"]
    assert bool(told(spiral, "made for 1.7 g")) == (loads.max() > (68 / 52) ** 2)


def test_an_engine_that_is_turned_too_fast_is_warned_of_where_the_file_gives_its_limit() -> None:
    plane = load("meadow-four")
    slow = plane.engine.model_copy(update={"rated_revolutions": 2300 / 60})
    flight = with_airplane(
        "chandelle", plane.model_copy(update={"engine": slow}), Day(entry_speed="102")
    )
    rpm = flight.at(flight.recorded("time"))["rpm"]
    assert rpm.max() > 1.02 * 2300
    (sentence,) = told(flight, "revolutions a minute")
    most = 10 * round(rpm.max() / 10)
    assert sentence.startswith(f"The engine goes up to {most:,} revolutions a minute at ")
    assert sentence.endswith(" knots, and is rated for 2,300: less throttle there.")
    # Where the file says no revolutions the usual ones are no limit of this engine.
    guessed = slow.model_construct(
        _fields_set=slow.model_fields_set - {"rated_revolutions"}, **dict(slow)
    )
    unsaid = with_airplane(
        "chandelle", plane.model_copy(update={"engine": guessed}), Day(entry_speed="102")
    )
    assert not told(unsaid, "revolutions a minute")


@pytest.mark.parametrize("airplane", ["meadow-four", "orchard-two", "hedgerow-two"])
@pytest.mark.parametrize("name", ["chandelle", "steep-turn-50", "unusual-attitude-nose-low"])
def test_on_a_usual_day_no_engine_is_turned_too_fast(name: str, airplane: str) -> None:
    assert not told(flown(name, airplane), "revolutions a minute")


def test_eights_on_pylons_begun_away_from_their_pivotal_altitude_say_so() -> None:
    usual = flown("eights-on-pylons")
    assert not told(usual, "pivotal")
    height = usual.table()["height_ft"][0]
    low = flown("eights-on-pylons", day=Day(altitude="800"))
    (sentence,) = told(low, "below its pivotal altitude")
    below = int(sentence.removeprefix("It begins ").split()[0])
    assert below == pytest.approx(height - 800, abs=6)  # the air down there is a little thicker
    # The handbook's estimate beside it: groundspeed in knots squared over 11.3 (FAA-H-8083-3C ch. 7).
    groundspeed = usual.table()["groundspeed_kt"][0]
    estimate = board(usual)["entry"]["pivotal_estimate_ft"]
    assert estimate == pytest.approx(groundspeed**2 / 11.3, rel=0.005)


@pytest.mark.parametrize(
    "name", sorted(path.stem for path in shipped("scripts").glob("maneuvers/*.yaml"))
)
def test_no_maneuver_of_the_library_is_faster_or_more_loaded_than_its_brief_says(name: str) -> None:
    flight = flown(name)
    table, found = flight.table(20.0), " ".join(warnings(flight))
    limit = flight.airplane.speeds.maneuvering / KNOT
    fast = (table["ias_kt"] > limit + 1.5) & (table["load_factor"] > 1.1)
    assert not fast.any() or "above maneuvering speed" in found
    assert np.abs(table["load_factor"]).max() < 3.8  # normal category, 14 CFR 23.337 (from memory)
