"""Everything of one student, on this machine: what there is, and removing it."""

from __future__ import annotations

from coach.logbook.logbook import Logbook
from coach.page.room import file
from coach.words import counted, listed


def held(book: Logbook, student: str) -> str:
    """What is kept of a student on this machine, in words.

    Raises:
        Problem: nothing is.
    """
    runs, calibrations, grips = book.holds(student)
    rooms = len(file.rooms_of(student))
    found = [counted(runs, "run")] if runs else []
    found += [counted(calibrations, "calibration")] if calibrations else []
    found += [f"the grip of {counted(grips, 'phone')}"] if grips else []
    found += [f"a place in {counted(rooms, 'room')}"] if rooms else []
    if not found:
        raise book.unknown(student)
    return f"{listed(found)} {f'of {student}' if student else 'without a name'}"


def forget(book: Logbook, student: str) -> None:
    """Remove all of it.

    Raises:
        Problem: nothing is removed from the logbook, as a room that they are in is open.
    """
    file.forget(student)
    if any(book.holds(student)):
        book.forget(student)
