"""An attack at the door of a class: names that are taken, tokens that are dead, floods.

Students' names are disguised in every way that somebody could take them for theirs, tokens are used
that were given up, names come back that were taken out, and new ones come without end. Run as
``python -m tests.attack.door --seed N --count M``: it prints how many were tried and what failed.
"""

from __future__ import annotations

import argparse
import random
from collections import Counter
from dataclasses import dataclass, field

from coach.page.room.door import Door
from coach.page.room.student import Student
from coach.problems import Problem

ADDRESSES = ("192.0.2.7", "192.0.2.66", "198.51.100.7", "203.0.113.9")  # RFC 5737

ALIKE = {
    "A": "\u0410\u0391\uff21",
    "a": "\u0430\uff41",
    "B": "\u0412\u0392\uff22",
    "E": "\u0415\u0395",
    "e": "\u0435\uff45",
    "o": "\u043e\u03bf\uff4f",
    "c": "\u0441\uff43",
    "p": "\u0440",
    "I": "l\u0406",
    "l": "I\uff4c",
    "H": "\u041d\u0397",
    "M": "\u041c\u039c",
    "T": "\u0422\u03a4",
    "x": "\u0445",
}
"""Letters and some that look like them, from memory: not from the table that the coach asks."""

UNSEEN = "\u200b\u200d\u2060\u3164\u2800\u115f\ufe0f\u00ad\ufffd\u034f "

NAMES = ("Ada", "Bo", "Cleo", "Ian", "Lilli", "Max", "Theo", "Hal", "Maximiliane", "Pax")


@dataclass
class Found:
    """What was tried, and what of it failed.

    Attributes:
        tried: counts, by what was tried.
        failed: the same of what went wrong.
        first: of each kind that failed, the first.
    """

    tried: Counter[str] = field(default_factory=Counter)
    failed: Counter[str] = field(default_factory=Counter)
    first: dict[str, str] = field(default_factory=dict)

    def note(self, what: str, well: bool, why: object = "") -> None:
        """One more was tried."""
        self.tried[what] += 1
        if not well:
            self.failed[what] += 1
            self.first.setdefault(what, str(why))

    def __str__(self) -> str:
        rows = [f"| {what} | {tried} | {self.failed[what]} |" for what, tried in self.tried.items()]
        firsts = [f"{what}: {why}" for what, why in self.first.items()]
        return "\n".join(["| what | tried | failed |", "| --- | --- | --- |", *rows, *firsts])


def disguised(name: str, chance: random.Random) -> str:
    """A name that somebody could take for this one."""
    letters = list(name)
    for at, letter in enumerate(letters):
        if letter in ALIKE and chance.random() < 0.5:
            letters[at] = chance.choice(ALIKE[letter])
    for _ in range(chance.randrange(3)):
        letters.insert(chance.choice((0, len(letters))), chance.choice(UNSEEN))
    for _ in range(chance.randrange(2)):
        letters.insert(chance.randrange(len(letters)), chance.choice(UNSEEN.strip()))
    made = "".join(letters)
    # Capitals of disguised letters are other letters.
    return made.swapcase() if made == name and chance.random() < 0.7 else made


def comes(door: Door, name: str, address: str, now_s: float) -> Student:
    """By name and code."""
    return door.join(door.knock(name, door.code, address, now_s), address)


def at_the_door(chance: random.Random, count: int, found: Found) -> None:
    """Names that are taken, tokens that are dead, names that were taken out, and floods."""
    for _ in range(count):
        door, now_s = Door(), 0.0
        students = [comes(door, name, ADDRESSES[0], now_s) for name in NAMES]
        for student in students:
            door.arrive(student)
        for _ in range(20):
            name = disguised(chance.choice(NAMES), chance)
            found.note(
                "names like another's", _stays_out(door, name, ADDRESSES[1], now_s), ascii(name)
            )

        lost = chance.choice(students)
        old = [lost.token]
        for _ in range(5):
            door.leave(lost, lost.connections)
            assert door.returned(
                door.knock(lost.name, door.code, ADDRESSES[0], now_s), ADDRESSES[0]
            )
            door.arrive(lost)
            for token in old:
                found.note("dead tokens", _unknown(door, token), lost.name)
            old.append(lost.token)

        gone = chance.choice(students)
        door.remove(gone.number)
        found.note("dead tokens", _unknown(door, gone.token), gone.name)
        for _ in range(20):
            name = disguised(gone.name, chance)
            found.note("names taken out", _stays_out(door, name, ADDRESSES[1], now_s), ascii(name))

        flood(door, chance, found)


def flood(door: Door, chance: random.Random, found: Found) -> None:
    """Thousands of names from three addresses, and one honest student among them."""
    let_in: Counter[str] = Counter()
    ada = next(iter(door.students.values()))
    for step in range(600):
        address = chance.choice(ADDRESSES[1:])
        try:
            comes(door, f"E {step} {chance.randrange(10**6)}", address, step / 10.0)
        except Problem:
            continue
        let_in[address] += 1
    for many in let_in.values():
        found.note("floods of joins", many <= 40 + 60 / 10 + 1, f"{many} from one address")
    found.note("honest ones in a flood", door.back(ada.token) is ada)
    while eves := [one for one in door.students.values() if one.address in ADDRESSES[1:]]:
        door.remove(eves[0].number, all_there=True)
    well = {one.address for one in door.students.values()} == {ADDRESSES[0]}
    found.note("floods taken out", well and ada.number in door.students)


def _stays_out(door: Door, name: str, address: str, now_s: float) -> bool:
    try:
        student = comes(door, name, address, now_s)
    except Problem:
        return True
    del door.students[student.number]
    return False


def _unknown(door: Door, token: str) -> bool:
    try:
        door.back(token)
    except Problem:
        return True
    return False


def main() -> None:
    """Attack, and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=100)
    given, found = parser.parse_args(), Found()
    at_the_door(random.Random(given.seed), given.count, found)
    print(found)


if __name__ == "__main__":
    main()
