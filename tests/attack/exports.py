"""An attack with mutated exports, each followed by every command and request that reads the logbook.

A real export is spoiled in a few ways: other types, magnitudes, letters, control bytes, years,
nesting, names that stand twice, a file cut short. It is imported beside a run that was there before.
Run as ``python -m tests.attack.exports --seed N --count M``: it prints how many were tried and what
failed, and the first of each kind that did.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import functools
import json
import os
import random
import sys
import tempfile
import time
import traceback
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx
from click.testing import CliRunner, Result

from coach.commands.cli import main as coach
from coach.debrief.gauging import score
from coach.flight.day import Day
from coach.hand.motion import Motion
from coach.logbook.exchange import export
from coach.logbook.logbook import Logbook
from coach.logbook.run import TRACE_COLUMNS, Run
from coach.page import app
from coach.rehearsal.ready import fly
from coach.taps.tap import Tap

MOST_S = 2.0
"""Of processor time for a command or a request that draws nothing."""

FAILURES = ("traceback", "half imported", "control bytes", "over 2 s", "noise")

KEY, HERE = "k" * 32, "127.0.0.1:8642"

BEFORE = datetime(2031, 5, 1, 9, 0, tzinfo=timezone.utc)

_FIGURES = (
    *("0", "-1", "1e308", "-1e308", "1e-308", "5e-324", "NaN", "Infinity", "-Infinity", "1e999"),
    *("9" * 400, "9" * 5000, "-" + "9" * 30, "36000", "-60", "36000.1", "1000000", "0.1", "10"),
    *("1000", "1001", "true", "null", "9223372036854775808", "1.0000000000000002", "16.8"),
)
_TEXTS = (
    *("\x1b[2J", "\x1b]0;title\x07", "\x00", "\x7f", "\x9b31m", "a\rb", "a\nb", "\x85", "\u2028"),
    *("\u00a0", "Lazy\u00a0eight", "\u202eada", "\u200d", "\ufeff", "\ufffd", "\u3164", "\u2800"),
    *("\U0001f468\u200d\U0001f469\u200d\U0001f467", "e\u0301" * 60, "\u0410da", "\U000e0041"),
    *("=cmd|' /C calc'!A0", "@SUM(1)", "+1", "-1", "＝1", "[/red]", "[bold]", ":smile:", "$x^{$"),
    *("$\\frac$", "%s %n", "{0}", "{title.__class__}", "</script>", "<b>", "&amp", "'; DROP", "\\"),
    *("", " ", "a" * 200, "a" * 201, "a" * 70_000, "damaged", "finished", "\u0661", "../../etc"),
)
_STARTS = (
    *("0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "1969-12-31T23:59:59Z"),
    *("1970-01-01T00:00:00+00:00", "2099-12-31T23:59:59-12:00", "2031-02-30T00:00:00Z"),
    *("2031-05-04T07:30:00", "2031-05-04T07:30:60Z", "2031-05-04T24:00:00Z", "0", "1e12", "now"),
    *("2031-05-04T07:30:00+23:59", "2031-05-04T07:30:00.123456789Z", "10000-01-01T00:00:00Z"),
)

Path_ = tuple[Any, ...]

_HAND = ("t_s", "pitch_deg", "bank_deg")


@functools.cache
def flown() -> tuple[Run, ...]:
    """Runs as the coach keeps them, of a whole lazy eight and of a steep turn that was stopped."""
    dice = random.Random(4)
    found = []
    for number, maneuver in enumerate(("lazy-eight", "steep-turn-45", "lazy-eight")):
        flight = fly(maneuver, "meadow-four", Day(loops=1))
        table = flight.table(10.0)
        taps = [Tap(moment.time_s + dice.gauss(0.0, 0.3)) for moment in flight.moments]
        times, pitch, bank = (tuple(table[one].tolist()) for one in _HAND)
        answer = Tap(taps[0].time_s + 1.0, 30.0, "voice", 1.5, "bank")
        run = Run(
            student=("Ada", "Bo", "Ada")[number],
            room=("", "Blue", "")[number],
            maneuver=maneuver,
            title=flight.maneuver.title,
            airplane=flight.airplane.title,
            started=BEFORE + timedelta(days=1 + number),
            moments=flight.moments,
            trace={name: table[name].round(2).tolist() for name in TRACE_COLUMNS},
            day={"loops": 1, "wind": "calm"},
            pace=(1.0, 0.75, 1.0)[number],
            support="tones",
            taps=(*taps, answer),
            motion=Motion(times, pitch, bank, 0.03),
            ended=("finished", "stopped", "finished")[number],
            reached_s=flight.length_s * (1.0, 0.6, 1.0)[number],
        )
        found.append(replace(run, score=score(run)))
    return tuple(found)


def _places(value: Any, at: Path_ = ()) -> Iterator[Path_]:
    """Every place in a JSON value; of long lists the first two and the last."""
    yield at
    if isinstance(value, dict):
        for name, one in value.items():
            yield from _places(one, (*at, name))
    elif isinstance(value, list):
        for index in sorted({0, 1, len(value) - 1}):
            if 0 <= index < len(value):
                yield from _places(value[index], (*at, index))


def _place(dice: random.Random, content: Any) -> tuple[Any, Any]:
    """Something that holds values, and which of them."""
    # Of each field alike, however many rows a trace has.
    by_name: dict[str, list[Path_]] = {}
    for at in _places(content):
        if at:
            by_name.setdefault("/".join(str(one) for one in at if isinstance(one, str)), []).append(
                at
            )
    at = dice.choice(by_name[dice.choice(sorted(by_name))])
    holder = content
    for step in at[:-1]:
        holder = holder[step]
    return holder, at[-1]


class Raw(str):
    """Stands in the file as it is here, not as a text of JSON."""


def _figure(dice: random.Random, content: Any) -> None:
    holder, where = _place(dice, content)
    holder[where] = Raw(dice.choice(_FIGURES))


def _text(dice: random.Random, content: Any) -> None:
    holder, where = _place(dice, content)
    holder[where] = dice.choice(_TEXTS)


def _a_text(dice: random.Random, content: Any) -> None:
    """A text in a place for one."""
    run = dice.choice(content["runs"])
    places = [
        (run, name) for name in ("student", "room", "maneuver", "title", "airplane", "support")
    ]
    places += [(moment, "name") for moment in run["moments"]] + [(run["day"], "wind")]
    places += [(tap, "said") for tap in run["taps"]]
    holder, where = dice.choice(places)
    holder[where] = dice.choice(_TEXTS)


def _year(dice: random.Random, content: Any) -> None:
    dice.choice(content["runs"])["started"] = dice.choice(_STARTS)


def _magnitude(dice: random.Random, content: Any) -> None:
    """Figures of a kind in all rows, large or small, and possible or not."""
    run, factor = dice.choice(content["runs"]), dice.choice((1e-300, 1e-5, 0.01, 30.0, 1e4, 1e300))
    column = dice.choice([*run["trace"], *run["moments"][0], "time_s of taps"])
    if column in run["trace"]:
        run["trace"][column] = [factor * one for one in run["trace"][column]]
    for one in run["moments"] if column in run["moments"][0] else run["taps"]:
        name = column if column in one else "time_s"
        if isinstance(one[name], (int, float)):
            one[name] = factor * one[name]


def _many(dice: random.Random, content: Any) -> None:
    run = dice.choice(content["runs"])
    name = dice.choice(("taps", "moments", "trace"))
    times = dice.choice((10, 100, 3000))
    if name == "trace":
        run["trace"] = {column: row * times for column, row in run["trace"].items()}
    elif name == "taps":
        run["taps"] = [
            {**tap, "time_s": tap["time_s"] + dice.uniform(-5, 5)}
            for tap in run["taps"]
            for _ in range(times)
        ]
    else:
        last = run["moments"][-1]
        run["moments"] += [{**last, "time_s": last["time_s"] + one} for one in range(1, times)]


def _gone(dice: random.Random, content: Any) -> None:
    holder, where = _place(dice, content)
    del holder[where]


def _added(dice: random.Random, content: Any) -> None:
    holder, _ = _place(dice, content)
    if isinstance(holder, dict):
        holder[dice.choice(_TEXTS)] = dice.choice((1, "x", [], {"a": {"b": [1]}}, None))
    else:
        holder.append(dice.choice((1, "x", [], {"a": 1}, None)))


def _nested(dice: random.Random, content: Any) -> None:
    holder, where = _place(dice, content)
    depth = dice.choice((3, 150, 900, 100_000))
    opened, closed = dice.choice((("[", "]"), ('{"a":', "}")))
    holder[where] = Raw(opened * depth + "1" + closed * depth)


def _order(dice: random.Random, content: Any) -> None:
    holder, where = _place(dice, content)
    if isinstance(holder[where], list):
        dice.shuffle(holder[where])


def _again(dice: random.Random, content: Any) -> None:
    content["runs"] += [dict(dice.choice(content["runs"])) for _ in range(dice.randint(1, 3))]


def _cut(dice: random.Random, text: bytes) -> bytes:
    return text[: dice.randrange(len(text))]


def _bytes(dice: random.Random, text: bytes) -> bytes:
    changed = bytearray(text)
    for _ in range(dice.choice((1, 3, 30))):
        changed[dice.randrange(len(changed))] = dice.randrange(256)
    return bytes(changed)


def _twice(dice: random.Random, text: bytes) -> bytes:
    """A field of some place once more."""
    places = [at for at in range(len(text)) if text.startswith(b'{"', at)]
    at = dice.choice(places) + 1
    name = text[at : text.index(b":", at) + 1]
    return text[:at] + name + dice.choice((b"1", b'"x"', b"null")) + b"," + text[at:]


def _otherwise(dice: random.Random, text: bytes) -> bytes:
    """The same in another encoding."""
    whole = text.decode(errors="replace")
    return whole.encode(dice.choice(("utf-8-sig", "utf-16", "utf-32", "latin-1")), "replace")


SPOILS: tuple[Callable[[random.Random, Any], None], ...] = (
    *(_figure, _text, _a_text, _a_text, _a_text, _year, _magnitude, _magnitude, _many, _gone),
    *(_added, _nested, _order, _again),
)
SPOILS_OF_BYTES = (_cut, _bytes, _twice, _otherwise)


def spoiled(dice: random.Random, text: str) -> bytes:
    """An export in which something is wrong, or only odd."""
    content = json.loads(text)
    for _ in range(dice.choice((1, 1, 1, 2, 3))):
        with contextlib.suppress(LookupError, TypeError, AttributeError):
            dice.choice(SPOILS)(dice, content)
    raw: list[str] = []

    def marked(value: Any) -> Any:
        if isinstance(value, Raw):
            raw.append(value)
            return f"raw {len(raw) - 1} here"
        if isinstance(value, dict):
            return {name: marked(one) for name, one in value.items()}
        return [marked(one) for one in value] if isinstance(value, list) else value

    whole = json.dumps(marked(content), ensure_ascii=dice.random() < 0.5)
    for number, one in enumerate(raw):
        whole = whole.replace(f'"raw {number} here"', one)
    found = whole.encode(errors="surrogatepass")
    return dice.choice(SPOILS_OF_BYTES)(dice, found) if dice.random() < 0.2 else found


class Attack:
    """What was tried, and what failed of it."""

    def __init__(self, *, short: bool = False) -> None:
        self.short = short
        self.failed: Counter[str] = Counter()
        self.told: list[str] = []
        self.imported = 0

    def fails(self, which: str, case: str, why: str) -> None:
        self.failed[which] += 1
        if self.failed[which] <= 10:
            self.told.append(f"{which}: {case}: {why}")

    def asked(self, case: str, *words: str, draws: bool = False) -> Result:
        """A command, and what it must not do."""
        began = time.process_time()
        result = CliRunner().invoke(coach, list(words))
        took = time.process_time() - began
        case = f"{case}: coach {' '.join(words)}"
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            self.fails("traceback", case, "".join(traceback.format_exception(result.exception)))
        if took > MOST_S and not draws:
            self.fails("over 2 s", case, f"{took:.1f} s")
        self.looked_at(case, result.output)
        if "Warning" in result.stderr:
            self.fails("noise", case, result.stderr[-300:])
        if result.exit_code and not result.stderr.splitlines()[-1].startswith("Error: "):
            self.fails("noise", case, result.stderr[-300:])
        return result

    def looked_at(self, case: str, text: str) -> None:
        """No control byte comes out, nor half a character."""
        bad = {
            one for one in text if one not in "\n\r\t" and unicodedata.category(one) in ("Cc", "Cs")
        }
        if bad:
            self.fails("control bytes", case, repr(bad))

    def requested(self, case: str, addresses: Sequence[str]) -> None:
        """Requests of the page, and what they must not do."""

        async def request_all() -> None:
            here = app.make(key=KEY, names=(), reach=HERE)
            transport = httpx.ASGITransport(here)
            headers = {"X-Coach-Key": KEY}
            async with (
                here.router.lifespan_context(here),
                httpx.AsyncClient(
                    transport=transport, base_url=f"http://{HERE}", headers=headers
                ) as client,
            ):
                for address in addresses:
                    await self._request(f"{case}: {address}", client, address)

        asyncio.run(request_all())

    async def _request(self, case: str, client: httpx.AsyncClient, address: str) -> None:
        began = time.process_time()
        try:
            answer = await client.get(address)
        except Exception as error:
            self.fails("traceback", case, "".join(traceback.format_exception(error)))
            return
        took = time.process_time() - began
        if answer.status_code not in (200, 400, 404):
            self.fails("noise", case, f"{answer.status_code} {answer.text[:200]}")
        if took > MOST_S and not address.endswith(".svg"):
            self.fails("over 2 s", case, f"{took:.1f} s")
        self.looked_at(case, answer.text)


def attack(seed: int, count: int, cache: Path | None = None, *, short: bool = False) -> Attack:
    """Import so many, each into a logbook of its own, and ask for everything.

    Args:
        seed: of what is spoiled.
        count: how many.
        cache: where what was planned before lies; None for a new place.
        short: whether to leave out what flies the whole library once, and the pictures.
    """
    found = Attack(short=short)
    before = os.environ.get("COACH_HOME")
    with tempfile.TemporaryDirectory(prefix="exports") as folder:
        text = _whole(Path(folder))
        cache = cache or Path(folder, "cache")
        cache.mkdir(exist_ok=True)
        try:
            for number in range(count):
                home = Path(folder, str(number))
                home.mkdir()
                (home / "cache").symlink_to(cache)
                os.environ["COACH_HOME"] = str(home)
                if not number and not short:  # flies everything once, which is remembered
                    CliRunner().invoke(coach, ["next", "--for", "private"])
                _one(found, f"{seed}/{number}", random.Random(f"{seed}/{number}"), home, text)
        finally:
            if before is not None:
                os.environ["COACH_HOME"] = before
    return found


def _whole(folder: Path) -> str:
    with Logbook(folder / "whole.sqlite3") as book:
        book.add(flown())
        export(book, folder / "whole.json")
    return (folder / "whole.json").read_text(encoding="utf-8")


def _one(found: Attack, case: str, dice: random.Random, home: Path, text: str) -> None:
    with Logbook() as book:
        book.add([replace(flown()[0], student="Cleo", started=BEFORE)])
    spoilt = home / "spoilt.json"
    spoilt.write_bytes(spoiled(dice, text))
    told = found.asked(case, "logbook", "--import", str(spoilt))
    with Logbook() as book:
        runs = list(book.every())
        numbers = [one.id for one in runs if one.id is not None]
        if told.exit_code and len(runs) != 1:
            found.fails("half imported", case, f"{len(runs)} runs")
        if book.damage or "Cleo" not in [one.student for one in runs]:
            found.fails("half imported", case, book.damage)
    found.imported += not told.exit_code
    students = {one.student for one in runs}
    found.asked(case, "logbook")
    if not found.short:
        found.asked(case, "next", "--student", dice.choice(sorted(students)))
    for student in students:
        found.asked(case, "logbook", "--student", student)
    for number in numbers:
        for more in ([], ["--table"], ["--json"]):
            found.asked(case, "debrief", str(number), *more)
    for name in ("out.csv", "out.json"):
        found.asked(case, "logbook", "--export", str(home / name))
        found.looked_at(f"{case}: {name}", (home / name).read_text(encoding="utf-8"))
    again = found.asked(case, "logbook", "--import", str(home / "out.json"))
    if f": 0 runs new, {len(runs)} known" not in again.stderr and len(set(map(_who, runs))) == len(
        runs
    ):
        found.fails("half imported", case, f"its own export: {again.stderr}")
    if told.exit_code or found.short:
        return
    drawn = dice.choice(numbers)
    kind, ending = dice.choice(
        (("picture", "svg"), ("picture", "png"), ("report", "html"), ("report", "pdf"))
    )
    picture = home / f"drawn.{ending}"
    found.asked(case, "debrief", str(drawn), f"--{kind}", str(picture), draws=True)
    if ending in ("svg", "html") and picture.exists():
        found.looked_at(f"{case}: {picture.name}", picture.read_text(encoding="utf-8"))
    addresses = ["/api/library", "/api/next?student=Ada", f"/api/runs/{drawn}/picture.svg"]
    addresses += [f"/api/logbook?student={quote(student)}" for student in students]
    addresses += [f"/api/runs/{number}" for number in numbers]
    found.requested(case, addresses)


def _who(run: Run) -> tuple[str, str, datetime]:
    return run.student, run.maneuver, run.started


def main() -> None:
    """Attack, and print the row of a table."""
    parser = argparse.ArgumentParser(description="Attack with mutated exports.")
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--count", type=int, required=True)
    parser.add_argument("--cache", type=Path, help="Where what was planned before lies.")
    given = parser.parse_args()
    found = attack(given.seed, given.count, given.cache)
    for line in found.told[:40]:
        print(line)
    cells = ", ".join(f"{which} {found.failed[which]}" for which in FAILURES)
    print(f"exports: seed {given.seed}, tried {given.count}, imported {found.imported}: {cells}")
    sys.exit(bool(found.failed))


if __name__ == "__main__":
    main()
