"""What a room looks like to those who are connected to it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from coach.page.hand.messages import Holding
from coach.page.room.messages import State
from coach.page.room.news import Guest, Listed, RoomState, Roster, Waiting, Welcome
from coach.page.room.room import Room
from coach.page.room.student import Student

WORDS: Mapping[State, tuple[str, str]] = {
    "open": (
        "You are in",
        "The instructor is choosing what to fly. Keep this page open and the screen on.",
    ),
    "preparing": ("You are in", "The maneuver is being prepared."),
    "ready": ("Ready", "Take the model in your hand. It starts from the loudspeaker in front."),
    "running": ("Flying", "Tap anywhere when you think you are on a checkpoint."),
    "paused": ("Paused", "Nothing counts until it goes on."),
    "finished": (
        "Finished",
        "If you tapped in it, your debrief comes in a moment; stay for the next run.",
    ),
}
"""What a phone shows of where the room stands, and what its student is to do."""

FLYING_HINT = "Fly it with the phone. The button is for checkpoints, if you want to tap them too."
"""What a student is to do whose phone is held as the airplane."""


def welcome(room: Room, student: Student) -> Welcome:
    """What somebody is told who has come in, or back."""
    return Welcome(
        token=student.token, name=student.name, room=room.name, next_tap=student.next_tap
    )


def waiting(guest: Student) -> Waiting:
    """What somebody is told whom the instructor has to let in."""
    return Waiting(
        words="One moment",
        hint=f"{guest.name} has flown with this coach before, so the instructor is asked whether "
        "that is you. If it is not, add a letter to your name.",
    )


def state(room: Room, *, leading: bool) -> RoomState:
    """Where the room stands; some of it is for the instructor alone."""
    flown = room.state == "finished" and any(one.run for one in room.door.students.values())
    names, ready = int(room.names_shown), room.ready
    picture = f"/api/room/picture.svg?run={room.run}&names={names}" if flown else ""
    words, hint = ("", "") if leading else WORDS[room.state]
    if hint and room.state == "finished" and not flown:
        hint = "It was stopped before the first checkpoint. Stay for the next run."
    return RoomState(
        name=room.name,
        state=room.state,
        run=room.run,
        title=ready.rehearsal.flight.maneuver.title if ready else "",
        airplane=ready.rehearsal.flight.airplane.title if ready else "",
        rehearsal=ready.id if leading and ready else "",
        position_s=room.stood_s if room.state == "paused" else 0.0,
        names_shown=room.names_shown,
        picture=picture if leading else "",
        code=room.door.code if leading else "",
        words=words,
        hint=hint,
    )


def holding(room: Room, told: Holding) -> Holding:
    """What a phone shows that is held as the airplane: what is the room's own is told as to all."""
    if told.state in ("learning", "level"):
        return told
    words, hint = WORDS[room.state]
    hint = FLYING_HINT if room.state == "running" else hint
    return told.model_copy(update={"words": words, "hint": hint})


def roster(room: Room) -> Roster:
    """Who is in, and who waits to be."""
    there = Counter(one.address for one in room.door.students.values())
    return Roster(
        students=tuple(
            Listed(
                number=one.number,
                name=one.name,
                here=one.here,
                uncertainty_ms=one.clock.uncertainty_ms,
                taps=one.taps,
                hand="" if one.hand is None else one.trouble or "flies by hand",
                there=there[one.address] if one.address else 1,
            )
            for one in room.door.students.values()
        ),
        guests=tuple(Guest(number=one.number, name=one.name) for one in room.door.guests.values()),
    )
