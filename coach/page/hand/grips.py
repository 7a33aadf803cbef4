"""How a student's phones are held, as the logbook keeps it."""

from __future__ import annotations

import contextlib

from coach.page.hand.hand import Hand
from coach.page.server.records import Records
from coach.problems import Problem


class Grips:
    """A student's grips.

    Attributes:
        student: whose phones they are.
    """

    def __init__(self, records: Records, student: str = "") -> None:
        """Nothing is asked yet.

        Args:
            records: with the logbook.
            student: whose phones they are.
        """
        self.student = student
        self._records = records

    async def hand(self, phone: str) -> Hand:
        """A phone as a hand, held as it was the last time; the easy way where that is not known."""
        grip, student = None, self.student
        with contextlib.suppress(Problem):
            grip = await self._records.ask(lambda book: book.grip(student, phone))
        return Hand(phone, grip)

    async def keep(self, hand: Hand) -> str:
        """Keep how a phone is held where that has just been learned; why it could not be, or ""."""
        if (grip := hand.learned()) is not None:
            phone, student = hand.phone, self.student
            try:
                await self._records.ask(lambda book: book.keep_grip(student, phone, grip))
            except Problem as problem:
                return str(problem)
        return ""
