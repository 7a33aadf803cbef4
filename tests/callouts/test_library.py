"""What is said along every maneuver of the library, by every airplane: each can be done or said."""

import itertools
import re
from collections.abc import Iterator
from functools import cache

import pytest

from coach.callouts.cuesheet import Cue, CueSheet, Phrase
from coach.callouts.sheet import cue_sheet, phrases
from coach.callouts.support import Support
from coach.callouts.wording import values
from coach.flight.flight import Flight
from coach.words import side_of
from tests.callouts.flown import PLANES, SCRIPTS, flown, spoken, voice

WORD_S = 0.36
"""What a word takes, pauses included: the usual voice's 0.33 s, and a little."""

SAID: tuple[Support, ...] = ("everything", "checkpoints", "asking")


@cache
def sheet(name: str, plane: str, support: Support) -> CueSheet:
    flight = flown(name, plane=plane)
    wanted = phrases(flight, support=support)
    return cue_sheet(flight, {one: voice(one, WORD_S) for one in wanted}, support=support)


def sheets(name: str, *supports: Support) -> Iterator[tuple[Flight, CueSheet]]:
    for plane in PLANES:
        for support in supports or SAID:
            yield flown(name, plane=plane), sheet(name, plane, support)


def in_flight(sheet: CueSheet) -> list[tuple[Cue, Phrase]]:
    return [one for one in spoken(sheet) if one[0].start_s >= sheet.flight_start_s]


def said(sheet: CueSheet) -> str:
    return " ".join(phrase.text for _, phrase in in_flight(sheet))


@pytest.mark.parametrize("name", SCRIPTS)
def test_nothing_that_a_script_says_has_no_room(name: str) -> None:
    for flight, found in sheets(name, "everything", "checkpoints"):
        assert not found.dropped, flight.airplane.title


@pytest.mark.parametrize("name", SCRIPTS)
def test_the_student_has_room_behind_every_name_and_most_of_a_later_loop(name: str) -> None:
    for flight, found in sheets(name, "everything"):
        cues = in_flight(found)
        for (cue, phrase), (after, _) in itertools.pairwise(cues):
            if phrase.lands:
                assert after.start_s >= cue.end_s + 1.2 - 1e-9
        for begin, end in flight.loops[1:]:
            begin, end = found.position_s(begin), found.position_s(end)
            heard = sum(max(0.0, min(cue.end_s, end) - max(cue.start_s, begin)) for cue, _ in cues)
            assert heard <= 0.6 * (end - begin) + 1e-9


@pytest.mark.parametrize("name", SCRIPTS)
def test_no_loop_is_called_like_the_one_before_and_none_is_longer_than_the_first(
    name: str,
) -> None:
    for flight, found in sheets(name, "everything"):
        loops = [
            [
                phrase.text
                for cue, phrase in in_flight(found)
                if begin <= found.flight_s(cue.start_s) < end
            ]
            for begin, end in flight.loops
        ]
        words = [sum(len(text.split()) for text in loop) for loop in loops]
        assert all(count < words[0] for count in words[1:])
        assert all(one != other for one, other in itertools.combinations(loops, 2))


@pytest.mark.parametrize("name", SCRIPTS)
def test_which_way_the_next_loop_goes_is_always_said(name: str) -> None:
    for flight, found in sheets(name):
        if not any("{next}" in say for one in flight.maneuver.callouts for say in one.say):
            assert len(flight.sides) == 1
            continue
        for loop, (_, end) in enumerate(flight.loops[:-1], start=1):
            before = [
                phrase.text.lower()
                for cue, phrase in in_flight(found)
                if end - 12.0 < found.flight_s(cue.start_s) < end + 0.1
            ]
            again = "again" if flight.sides[loop] == flight.sides[loop - 1] else "then"
            assert any(f"{again} {side_of(flight.sides[loop])}" in text for text in before)


@pytest.mark.parametrize("name", SCRIPTS)
def test_every_number_to_learn_is_said_once_at_least(name: str) -> None:
    for flight, found in sheets(name, "everything"):
        everything = " ".join(phrase.text for _, phrase in spoken(found)).lower()
        for checkpoint in flight.maneuver.checkpoints:
            moments = [one for one in flight.moments if one.name == checkpoint.name]
            for asked in checkpoint.asks:
                told = {values(flight, moment)[asked].text for moment in moments}
                level = asked == "bank" and any(round(one.bank_deg) == 0 for one in moments)
                where = f"{asked} at {checkpoint.name}, {flight.airplane.title}"
                assert level or any(value.lower() in everything for value in told), where


def test_in_every_loop_of_a_lazy_eight_all_three_controls_are_called() -> None:
    for flight, found in sheets("lazy-eight", "everything"):
        for begin, end in flight.loops:
            heard = " ".join(
                phrase.text.lower()
                for cue, phrase in in_flight(found)
                if begin <= found.flight_s(cue.start_s) < end
            )
            for control in ("pressure", "aileron", "rudder"):
                assert control in heard


SAFETY = {
    "accelerated-stall": ("nose down", "full power", "right rudder", "roll level"),
    "chandelle": ("nose up", "full power", "right rudder", "ball in the middle"),
    "climb-at-constant-speed": ("full power", "right rudder"),
    "emergency-descent": ("no faster than", "roll level"),
    "engine-failure": ("nose down", "fly the airplane"),
    "go-around": ("full power", "nose up", "right rudder"),
    "power-off-180": ("no steeper", "go around"),
    "power-off-stall": ("nose down", "full power", "right rudder"),
    "power-on-stall": ("nose down", "full power", "right rudder"),
    "short-field-landing": ("go around",),
    "slow-flight": ("full power", "right rudder"),
    "steep-spiral": ("above the ground",),
    "traffic-pattern": ("no steeper", "go around"),
    "unusual-attitude-nose-high": ("full power", "right rudder", "nose down", "roll level"),
    "unusual-attitude-nose-low": ("power idle", "roll level"),
}
"""What must never be left out: rudder with full power, unloading before rolling, the direction to
recover to, going around (the recoveries of FAA-H-8083-3C, ch. 5, 8 and 9, from memory)."""


@pytest.mark.parametrize("name", SAFETY)
def test_words_of_safety_are_said_wherever_anything_is(name: str) -> None:
    for flight, found in sheets(name):
        heard = said(found).lower()
        for words in SAFETY[name]:
            assert words in heard, (words, flight.airplane.title, found.support)


@pytest.mark.parametrize(
    ("name", "first", "then"),
    [
        ("accelerated-stall", "nose down", "roll level"),
        ("power-off-stall", "nose down", "full power"),
        ("power-on-stall", "nose down", "full power"),
        ("unusual-attitude-nose-high", "full power", "roll level"),
        ("unusual-attitude-nose-high", "nose down", "roll level"),
        ("unusual-attitude-nose-low", "power idle", "roll level"),
    ],
)
def test_a_recovery_is_called_in_its_order(name: str, first: str, then: str) -> None:
    for _, found in sheets(name):
        heard = said(found).lower()
        assert heard.index(first) < heard.index(then)


@pytest.mark.parametrize("name", SCRIPTS)
def test_flaps_and_gear_come_up_only_where_they_were_down(name: str) -> None:
    for flight, found in sheets(name, "everything"):
        heard = " ".join(phrase.text for _, phrase in spoken(found)).lower()
        if flight.airplane.flaps == ():
            assert "flap" not in heard
        elif "flaps up" in heard:
            down = heard.index("flaps up")
            assert re.search(r"flaps \d+|full flaps", heard[:down])
        if flight.airplane.gear == "fixed":
            assert "gear" not in heard
        elif "gear up" in heard:
            # A flight that begins on the approach begins with the gear down.
            assert "gear down" in heard[: heard.index("gear up")]


DONE = (
    "nose roll turn bank power full hold ease add raise lower push pull let trim look eyes look wait "
    "ready steepen climb start fuel ignition mayday squawk belts flaps gear throttle brakes elevator "
    "keep wings level pick decide crab fly clear go take close open unload wing mixture restart more "
    "less aileron ailerons rudder left right back forward time now report check carburetor primer "
    "recover a into reverse accelerate ball slip pump starter hand foot clock who where what and or doors climbing shallow".split()
)
"""Words that something to do begins with."""

TRUE_NOW = re.compile(
    r"\d|level$|on the heading|lowest pitch|runway to the|pylon|the lowest|halfway|coming to|close to the stall|into the wind|"
    r"wind comes behind|one more|half a turn|final|stall|warning|speed is falling|idle|neutral|"
    r"no elevator pressure|touch of|more (?:right|left) rudder|again (?:left|right)|"
    r"then (?:left|right)|below|to the (?:left|right)|approach|standard rate|(?:thirty|ninety) seconds|crab|"
    r"^(?:gently|smoothly|slowly|steep|shallow|medium)$"
)
"""What tells where the airplane is or what is heard and felt now, and which way the next loop is."""


@pytest.mark.parametrize("name", SCRIPTS)
def test_everything_said_is_a_name_something_to_do_a_number_or_a_word_of_safety(name: str) -> None:
    for flight, found in sheets(name):
        names = {checkpoint.name.lower() for checkpoint in flight.maneuver.checkpoints}
        safety = {
            word.lower()
            for callout in flight.maneuver.callouts
            if callout.is_safety
            for say in (*callout.never_without, *callout.say)
            for word in re.split(r"[.,?] ?", say)
        }
        for cue, phrase in in_flight(found):
            if cue.gap_s:  # a question
                continue
            for part in re.split(r"[.?](?: |$)", phrase.text.lower()):
                clauses = [part] if part in names else part.split(", ")
                for clause in filter(None, clauses):
                    fits = (
                        clause in names
                        or clause in safety
                        or clause.split()[0] in DONE
                        or TRUE_NOW.search(clause)
                    )
                    assert fits, (clause, phrase.text)


def test_no_rule_is_said_and_nothing_that_is_only_asked_of_the_air() -> None:
    for name in SCRIPTS:
        for callout in flown(name).maneuver.callouts:
            for say in callout.say:
                assert not re.search(
                    r":|\?|\bif\b|\bwhen\b|\bwatch\b|\blisten\b|\bthink\b", say.lower()
                ), say


def test_the_altitude_at_the_top_of_a_lazy_eight_is_said_as_well_as_its_speed() -> None:
    for flight, found in sheets("lazy-eight", "everything"):
        tops = [index for index, one in enumerate(flight.moments) if one.name == "90"]
        called = [phrase.text for cue, phrase in in_flight(found) if cue.moment in tops]
        known = values(flight, flight.moments[tops[0]])
        assert any(
            known["speed"].text in text and known["altitude"].text in text for text in called
        )
