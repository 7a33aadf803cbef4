"""What the screen shows while a rehearsal runs: the flight and the cue sheet at one moment."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from coach.callouts.cuesheet import Cue, CueSheet
from coach.callouts.support import SUPPORTS
from coach.debrief.answers import NOW_S, place
from coach.debrief.gauging import gauged
from coach.flight.flight import Flight
from coach.logbook.run import Run
from coach.rehearsal.moving import Live
from coach.rehearsal.moving import State as HandState
from coach.taps.tap import UNCLEAR, Tap
from coach.taps.timing import WINDOW_S, distinct, match
from coach.taps.unheard import Unheard
from coach.terminal.seen import Mark, MarkState, State, View
from coach.words import side_of

CAPTION_STAYS_S = 1.0
"""How long a caption stands after its last word."""


HANDS: Mapping[HandState, str] = {
    "lost": "lost",
    "joined": "joined",
    "level": "held level",
    "flying": "flying",
}
"""How it is with a hand, in words."""


def view(
    flight: Flight,
    sheet: CueSheet,
    position_s: float,
    taps: Mapping[str, Sequence[Tap]],
    unheard: Sequence[Unheard] = (),
    hand: Live | None = None,
    *,
    paused: bool,
    finished: bool,
    message: str,
) -> View:
    """The screen's content.

    Args:
        flight: what is flown.
        sheet: what is said when.
        position_s: what is heard now, on the soundtrack's clock.
        taps: what each student did so far.
        unheard: where a student who is heard could not be perceived so far.
        hand: how the student's hand stands; None where none flies along.
        paused: whether the run is paused.
        finished: whether it is over.
        message: one sentence, or an empty text.
    """
    flown = sheet.flight_s(position_s)
    now = min(max(flown, 0.0), flight.length_s)
    span = next((one for one in flight.spans if now < one.end_s), flight.spans[-1])
    here = flight.moment(now, span.loop, "now")
    passed = [moment.time_s for moment in flight.moments if moment.time_s <= now]
    ahead = next((moment for moment in flight.moments if moment.time_s > now), None)
    return View(
        title=flight.maneuver.title,
        airplane=flight.airplane.title,
        loop=span.loop,
        loops=len(flight.sides),
        side=side_of(flight.sides[span.loop - 1]),
        state=_state(flown, paused=paused, finished=finished),
        leg=span.leg,
        pitch_deg=here.pitch_deg,
        bank_deg=here.bank_deg,
        ias_kt=here.ias_kt,
        altitude_ft=here.altitude_ft,
        next_name=ahead.name if ahead else "",
        next_reference=(flight.reference_ahead(ahead.time_s) or "") if ahead else "",
        next_in_s=(ahead.time_s - flown) / sheet.pace if ahead else 0.0,
        next_of_s=(ahead.time_s - (passed[-1] if passed else 0.0)) / sheet.pace if ahead else 0.0,
        caption=caption(sheet, position_s),
        marks=_marks(flight, sheet, span.loop, flown, taps, unheard, hand)
        if len(taps) == 1
        else (),
        counts=tuple((name, len(found)) for name, found in taps.items() if len(taps) > 1),
        message=message,
        count_in_s=max(0.0, -flown / sheet.pace),
        shows=SUPPORTS[sheet.support].shows,
        hand=HANDS[hand.state] if hand else "",
        hand_pitch_deg=hand.pitch_deg if hand and SUPPORTS[sheet.support].own else None,
        hand_bank_deg=hand.bank_deg if hand and SUPPORTS[sheet.support].own else None,
    )


def caption(sheet: CueSheet, position_s: float) -> str:
    """The text of the phrase that is heard, was just heard, or waits for its answer."""
    spoken = [cue for cue in sheet.cues if cue.phrase is not None and cue.start_s <= position_s]
    last: Cue | None = spoken[-1] if spoken else None
    if last is None or last.phrase is None:
        return ""
    stands_until = last.end_s + max(CAPTION_STAYS_S, last.gap_s)
    return last.phrase.text if position_s <= stands_until else ""


def _state(flown: float, *, paused: bool, finished: bool) -> State:
    if finished:
        return "finished"
    if paused:
        return "paused"
    return "count-in" if flown < 0.0 else "running"


def _marks(
    flight: Flight,
    sheet: CueSheet,
    loop: int,
    flown: float,
    taps: Mapping[str, Sequence[Tap]],
    unheard: Sequence[Unheard],
    hand: Live | None,
) -> tuple[Mark, ...]:
    """One loop's checkpoints, matched as in the debrief: what it calls late is not missed here."""
    times = [moment.time_s / sheet.pace for moment in flight.moments]
    (found,) = taps.values()
    # A number that is typed on the way to a checkpoint is no tap of it.
    own_s = [
        at
        for at, tap in ((tap.time_s / sheet.pace, tap) for tap in found if tap.said != UNCLEAR)
        if tap.value is None
        or (tap.hesitation_s is None and any(abs(at - time) <= NOW_S for time in times))
    ]
    tapped = {checkpoint for checkpoint, _ in match(times, distinct(own_s)).pairs}
    tapped |= {
        place(times, tap.time_s / sheet.pace, tap.hesitation_s)
        for tap in found
        if tap.value is not None and tap.hesitation_s is not None
    }

    doubtful = _doubtful(flight, sheet, found, unheard)

    def state(checkpoint: int) -> MarkState:
        if checkpoint in tapped:
            return "tapped"
        over = flown / sheet.pace > times[checkpoint] + WINDOW_S
        if not over:
            return "coming"
        if hand is not None:
            return "passed"
        return "unheard" if flight.moments[checkpoint].time_s in doubtful else "missed"

    return tuple(
        Mark(moment.name, state(checkpoint))
        for checkpoint, moment in enumerate(flight.moments)
        if moment.loop == loop
    )


def _doubtful(
    flight: Flight, sheet: CueSheet, taps: Sequence[Tap], unheard: Sequence[Unheard]
) -> set[float]:
    """When the checkpoints are due of which the debrief will say that they were not perceived."""
    if not unheard and all(tap.said != UNCLEAR for tap in taps):
        return set()
    run = Run(
        maneuver="",
        title="",
        airplane="",
        started=datetime.now().astimezone(),
        moments=sheet.asking(flight.moments),
        trace={},
        pace=sheet.pace,
        support=sheet.support,
        taps=tuple(taps),
        unheard=tuple(unheard),
        ended="finished",
    )
    verdicts = gauged(run).verdicts
    return {verdict.flight_s for verdict in verdicts if verdict.word == "not perceived"}
