"""The door of a room: who comes in, who waits to be let in, and who stays out.

A name alone is no proof of who somebody is. So a phone that has lost its token comes back by name
and code only where the other one is gone, the token that it had is dead from then on, and a name
that the logbook has runs of from elsewhere waits for the instructor, who sees the class.
"""

from __future__ import annotations

from collections.abc import Iterable

from coach.page.room.student import Student, Taken
from coach.page.server.clocks import BrowserClock
from coach.page.server.limits import Guesses, Joins
from coach.page.server.names import matches, new_code, new_secret, same, tidy
from coach.problems import Problem

MOST_STUDENTS = 250
MOST_GUESTS = 100
"""So many may wait to be let in; a class that comes back is let in together."""


class Door:
    """Who is in a room, and by which.

    Attributes:
        code: what students type to come in.
        students: who is in, by their numbers, in the order they came.
        guests: who waits to be let in, by theirs.
        out: the names that were taken out; they stay out until there is a new code.
    """

    def __init__(self, code: str = "") -> None:
        """Nobody is in; the code is a new one where none is given."""
        self.code = code or new_code()
        self.students: dict[int, Student] = {}
        self.guests: dict[int, Student] = {}
        self.out: list[str] = []
        self._numbers = 0
        self._guesses, self._joins = Guesses(), Joins()

    def restore(self, students: Iterable[Student], out: Iterable[str]) -> None:
        """Those who were in, and the names that were taken out."""
        self.students = {student.number: student for student in students}
        self.out = list(out)
        self._numbers = max(self.students, default=0)

    # By code and name.

    def knock(self, name: str, code: str, address: str, now_s: float) -> str:
        """Somebody who has no token wants to come in.

        Args:
            name: what they call themselves.
            code: what they typed.
            address: where from.
            now_s: the room's clock.

        Returns:
            The name as it is kept, with which they may `join` or have come back (`returned`).

        Raises:
            Problem: a wrong code, too many wrong ones or too many new names from there, no name, or
                one that was taken out.
        """
        if wait_s := self._guesses.wait_s(address, now_s):
            raise Problem(f"Too many wrong codes: wait {wait_s} seconds and try again.")
        if not matches("".join(code.split()), self.code):
            self._guesses.wrong(address, now_s)
            raise Problem("That is not this room's code; it is on the instructor's screen.")
        tidied = tidy(name, "Your name")
        for gone in self.out:
            if same(tidied, gone):
                raise Problem(
                    f"The instructor took {gone} out of the room: come by a name of your own, or "
                    "ask for a new code."
                )
        if self._named(tidied) is None and not self._joins.take(address, now_s):
            wait_s = self._joins.wait_s(address, now_s)
            raise Problem(
                f"Many have just joined from where you are: wait {wait_s} seconds and try again."
            )
        return tidied

    def join(self, name: str, address: str, known_as: str = "") -> Student:
        """Somebody new: in, or waiting to be let in.

        Args:
            name: from `knock`.
            address: where from.
            known_as: whom the logbook has runs of from elsewhere by a name that looks like this
                one; then they wait, and go by that.

        Raises:
            Taken: the name is somebody's who is in.
            Problem: there is no room for another.
        """
        self._free(name)
        if not known_as:
            self._make_place()
        elif len(self.guests) >= MOST_GUESTS:
            raise Problem("Too many wait for the instructor to let them in: try again in a minute.")
        self._numbers += 1
        student = Student(self._numbers, known_as or name, new_secret(), address)
        (self.guests if known_as else self.students)[student.number] = student
        return student

    def returned(self, name: str, address: str) -> Student | None:
        """Whoever has that name, back by their word on a phone that has lost its token.

        They have a new token from now on, and the old one is dead.

        Returns:
            None where nobody has that name.

        Raises:
            Taken: whoever has it is here.
        """
        student = self._named(name)
        if student is None:
            return None
        if student.here:
            raise Taken(student)
        student.given_up.add(student.token)
        student.token, student.address, student.hand = new_secret(), address, None
        return student

    def let_in(self, number: int) -> Student:
        """The instructor knows somebody who waited.

        Raises:
            Taken: another one of that name was let in meanwhile; who waited does not any more.
            Problem: nobody waits by that number, or the room is full.
        """
        guest = self.send_away(number)
        self._free(guest.name)
        self._make_place()
        self.students[number] = guest
        return guest

    def send_away(self, number: int) -> Student:
        """Somebody waits no more.

        Raises:
            Problem: nobody waits by that number.
        """
        if number not in self.guests:
            raise Problem("That phone does not wait to be let in any more.")
        return self.guests.pop(number)

    # By token.

    def back(self, token: str) -> Student:
        """Somebody who was in before.

        Raises:
            Problem: this room does not know them.
        """
        for student in self.students.values():
            if matches(token, student.token):
                return student
        for student in self.students.values():
            if token in student.given_up:
                raise Problem(
                    f"{student.name} came in on another page, by name and code: if that was not "
                    "you, tell the instructor."
                )
        raise Problem("This room does not know you any more; join it with the code.")

    def arrive(self, student: Student) -> int:
        """Their phone is connected, its clock unknown; the connection's number."""
        student.connections += 1
        student.here = True
        student.clock = BrowserClock()
        student.waiting.clear()
        return student.connections

    def leave(self, student: Student, connection: int) -> None:
        """Their phone is gone, unless it came back by another connection meanwhile."""
        if connection == student.connections:
            student.here = False
            self.guests.pop(student.number, None)

    # What the instructor does.

    def new_code(self) -> None:
        """Another code, by which names that were taken out may come as well; who is in stays in."""
        before = self.code
        while self.code == before:
            self.code = new_code()
        self.out.clear()
        self._joins = Joins()

    def remove(self, number: int, *, all_there: bool = False) -> list[Student]:
        """Take somebody out, whose name then stays out.

        Args:
            number: whom.
            all_there: everybody else as well who came from the same address.

        Returns:
            Whoever is not in any more.

        Raises:
            Problem: nobody has that number.
        """
        if number not in self.students:
            raise Problem("That student is not in the room any more.")
        gone = [self.students[number]]
        if all_there and gone[0].address:
            gone = [one for one in self.students.values() if one.address == gone[0].address]
        for student in gone:
            del self.students[student.number]
            self.out.append(student.name)
        return gone

    def _named(self, name: str) -> Student | None:
        return next((one for one in self.students.values() if same(name, one.name)), None)

    def _free(self, name: str) -> None:
        if student := self._named(name):
            raise Taken(student)

    def _make_place(self) -> None:
        """Whoever is gone and tapped nothing in this run loses little with their place.

        Raises:
            Problem: there is no such place.
        """
        if len(self.students) < MOST_STUDENTS:
            return
        for number, student in self.students.items():
            if not student.here and not student.taps:
                del self.students[number]
                return
        raise Problem(f"The room is full: {MOST_STUDENTS} students are in.")
