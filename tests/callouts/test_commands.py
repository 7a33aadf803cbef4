"""What a command word asks for is what the airplane begins to do as it is heard."""

import re

import numpy as np
import pytest

from coach.callouts.cuesheet import Measure
from coach.callouts.sheet import COMMAND_AHEAD_S, COMMAND_SLACK_S, cue_sheet, phrases
from coach.flight.flight import Flight
from coach.script.maneuver import Anchor
from tests.callouts.flown import SCRIPTS, flown, spoken

LEADS_S, LAGS_S = 0.9, 0.8
"""How much sooner than the bank begins to change a command word may begin, and how much later.

The hand takes 0.4 s, and what it begins shows a moment later. Behind a checkpoint's name, which has
the moment to itself, it comes later.
"""

COMMAND = re.compile(
    r"(?:^|(?<=\. ))(?:(?:roll|turn) (?:out|in|left|right|level)|(?:now|again) (?:left|right))\b",
    re.IGNORECASE,
)

WORD_S, STOP_S = 0.28, 0.2
"""What a usual voice takes for a word, and for a full stop or a comma (of our voices, rounded)."""


def sounds_s(words: str) -> float:
    return WORD_S * len(words.split()) + STOP_S * len(re.findall(r"[.,?]", words))


def commands(flight: Flight) -> list[tuple[float, str, str]]:
    """Every command that is said: when its word begins on the flight's clock, it, the phrase."""
    lengths = {one: Measure(sounds_s(one.spoken)) for one in phrases(flight)}
    sheet = cue_sheet(flight, lengths)
    return [
        (
            sheet.flight_s(cue.start_s + sounds_s(phrase.spoken[: found.start()])),
            found[0].lower(),
            phrase.text,
        )
        for cue, phrase in spoken(sheet)
        for found in COMMAND.finditer(phrase.spoken)
        if cue.start_s >= sheet.flight_start_s
    ]


def changes(flight: Flight) -> dict[str, list[float]]:
    """When bank begins to build from level wings, and when it begins to come off until level."""
    step = 0.05
    times = np.arange(0.0, flight.length_s, step)
    bank = np.abs(np.interp(times, flight.recorded("time"), flight.recorded("bank")))
    level = bank < np.radians(0.5)
    edges = np.flatnonzero(level[1:] != level[:-1]) + 1
    off = np.append(0.0, -np.diff(bank) / step)
    found: dict[str, list[float]] = {"in": [], "out": []}
    for edge in edges:
        if not level[edge]:
            found["in"].append(times[edge])
            continue
        fastest = off[max(0, edge - round(2.0 / step)) : edge + 1].max()
        slow = np.flatnonzero(off[:edge] < 0.25 * fastest)
        # Where the roll has all but ended it is slow too: that is its end and not its beginning.
        begun = slow[bank[slow] > np.radians(2.0)]
        found["out"].append(times[begun[-1]] if begun.size else 0.0)
    return found


@pytest.mark.parametrize("name", SCRIPTS)
def test_a_word_that_rolls_is_heard_as_the_bank_begins_to_change(name: str) -> None:
    flight = flown(name)
    begun = changes(flight)
    for at, command, phrase in commands(flight):
        way = "out" if command.split()[1] in ("out", "level") else "in"
        late = min((at - one for one in begun[way]), key=abs, default=np.inf)
        assert -LEADS_S <= late <= LAGS_S, f"{phrase} at {at:.1f} s is {late:+.1f} s late"


def test_commands_are_found_wherever_a_pilot_would_expect_one() -> None:
    said = {name: [command for _, command, _ in commands(flown(name))] for name in SCRIPTS}
    assert said["steep-turn-45"] == ["roll out", "roll left", "roll out"]
    assert said["slow-flight"] == ["roll right", "roll out", "roll left", "roll out"]
    assert said["traffic-pattern"] == ["turn left", "roll out", "turn left", "roll out"]
    assert said["steep-spiral"] == ["roll out"]
    assert said["holding-pattern"] == ["turn right", "roll out", "roll out"]
    assert sum(map(len, said.values())) > 40


@pytest.mark.parametrize("name", SCRIPTS)
def test_every_command_of_a_script_begins_on_its_moment_or_just_before(name: str) -> None:
    flight = flown(name)
    sheet = cue_sheet(flight, {})
    begun = np.array([sheet.flight_s(cue.start_s) for cue, _ in spoken(sheet)])
    for callout in flight.maneuver.callouts:
        when = flight.when(callout.at, 1)
        if callout.kind == "command" and when is not None:
            early = max(when - COMMAND_AHEAD_S, 0.5) - 1e-6
            said = (begun >= early) & (begun <= early + COMMAND_SLACK_S + 1e-5)
            assert said.any()


def test_a_roll_out_is_where_the_bank_comes_off_for_good_and_not_where_the_wind_takes_some() -> (
    None
):
    flight = flown("turns-around-a-point")
    when = flight.when(Anchor(leg="circle", roll_out=True), 1)
    assert when is not None
    span = flight.spans[0]
    assert span.end_s - 5.0 < when < span.end_s - 3.0
    banks = np.abs(flight.at(np.arange(when, span.end_s, 0.1))["bank_deg"])
    assert banks[0] > 43.0
    assert (np.diff(banks) < -0.05).all()


def test_a_leg_that_never_rolls_out_has_no_such_moment() -> None:
    flight = flown("turns-around-a-point")
    assert flight.when(Anchor(leg="straight", roll_out=True), 1) is None
