"""What the screen says of a run, from the flight, the cue sheet and the taps."""

from datetime import datetime, timezone

import pytest

from coach.callouts.cuesheet import CueSheet
from coach.callouts.sheet import cue_sheet
from coach.callouts.support import SUPPORTS
from coach.debrief.gauging import gauged
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.logbook.run import Run
from coach.rehearsal.moving import Live
from coach.rehearsal.ready import fly
from coach.taps.tap import Tap
from coach.taps.timing import match
from coach.taps.unheard import Unheard
from coach.terminal.seen import View
from coach.terminal.stage import view


@pytest.fixture(scope="module")
def flight() -> Flight:
    return fly("lazy-eight", "meadow-four", Day())


def marks(
    flight: Flight, sheet: CueSheet, flown_s: float, taps: list[Tap], *unheard: Unheard
) -> list[str]:
    seen = view(
        flight,
        sheet,
        sheet.flight_start_s + flown_s,
        {"": taps},
        unheard,
        paused=False,
        finished=False,
        message="",
    )
    return [mark.state for mark in seen.marks]


def test_a_tap_the_debrief_calls_late_is_not_marked_missed(flight: Flight) -> None:
    sheet = cue_sheet(flight, {})
    times = [moment.time_s for moment in flight.moments]
    late = [Tap(times[0] + 3.0)]
    assert match(times, [late[0].time_s]).pairs == ((0, 0),)
    assert marks(flight, sheet, times[0] + 2.9, []) == ["coming"] * 4
    assert marks(flight, sheet, times[0] + 3.1, late) == ["tapped", "coming", "coming", "coming"]
    assert marks(flight, sheet, times[0] + 5.0, [])[0] == "missed"


def test_what_was_not_perceived_is_not_marked_missed(flight: Flight) -> None:
    sheet = cue_sheet(flight, {}, support="tones")
    first, second = (moment.time_s for moment in flight.moments[:2])
    said = Unheard(first - 0.5, first + 0.5, "not understood")
    assert marks(flight, sheet, second + 5.0, [], said)[:2] == ["unheard", "missed"]
    gone = Unheard(second - 2.0, flight.length_s, "no microphone")
    assert marks(flight, sheet, second + 5.0, [], gone)[:2] == ["missed", "unheard"]


def test_one_tap_marks_one_checkpoint_and_a_bouncing_key_no_more(flight: Flight) -> None:
    sheet = cue_sheet(flight, {})
    first, second = (moment.time_s for moment in flight.moments[:2])
    between = (first + second) / 2 + 0.1
    assert abs(between - first) < 4 and abs(between - second) < 4
    taps = [Tap(between), Tap(between + 0.03)]
    assert marks(flight, sheet, second, taps) == ["missed", "tapped", "coming", "coming"]


def test_a_number_typed_on_the_way_is_no_tap_as_in_the_debrief(flight: Flight) -> None:
    sheet = cue_sheet(flight, {}, support="asking")
    first = flight.moments[0].time_s
    for early, state in ((1.0, "tapped"), (3.0, "missed")):
        answer = Tap(first - early, 20.0)
        run = Run(
            maneuver="lazy-eight", title="", airplane="", started=datetime.now(timezone.utc),
            moments=flight.moments, trace={}, taps=(answer,), reached_s=first + 5.0,
        )  # fmt: skip
        assert (0 in gauged(run).timing.missed) == (state == "missed")
        assert marks(flight, sheet, first + 5.0, [answer])[0] == state


@pytest.mark.parametrize("support", SUPPORTS)
def test_of_a_hand_it_is_shown_how_it_stands_and_where_all_is_said_its_attitude(
    flight: Flight, support: str
) -> None:
    sheet = cue_sheet(flight, {}, support=support)
    hand = Live("flying", 3.0, -12.0, 4.0, -15.0)
    first_s = flight.moments[0].time_s

    def seen(hand: Live | None) -> View:
        return view(
            flight,
            sheet,
            sheet.position_s(first_s + 5.0),
            {"": []},
            (),
            hand,
            paused=False,
            finished=False,
            message="",
        )

    with_it, without = seen(hand), seen(None)
    assert (with_it.hand, without.hand) == ("flying", "")
    own = (with_it.hand_pitch_deg, with_it.hand_bank_deg)
    assert own == ((3.0, -12.0) if support == "everything" else (None, None))
    # What a hand did there the debrief tells: that it was not tapped is no miss.
    assert (with_it.marks[0].state, without.marks[0].state) == ("passed", "missed")
    assert seen(Live()).hand == "lost"
