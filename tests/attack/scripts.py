"""An attack with mutated scripts, through the command line's own way in.

Every shipped script is spoiled in a few ways, from a slip of the pen to a file that means harm, laid
into a student's own folder, and looked at by ``coach check``, ``coach brief`` and ``coach library``.
Run as ``python -m tests.attack.scripts --seed N --count M``: it prints how many were tried and what
failed, and the first of each kind that did.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import resource
import signal
import sys
import tempfile
import traceback
import unicodedata
import warnings
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

MOST_CPU_S, MOST_MB = 2.0, 200.0
GIVEN_UP_S = 20.0
"""Of processor time: longer than this no command is waited for."""

LIBRARY_EVERY = 10
"""``coach library`` reads everything else as well, so it is asked each so many scripts."""

FAILURES = ("traceback", "over 2 s", "over 200 MB", "control bytes", "noise")

Spoil = Callable[[random.Random, str], str | bytes]

_NUMBERS = (
    *("0", "-1", "1", "1e9", "1e999", "-0.0", ".inf", ".nan", "nan", "1:59:59", "2026-02-30"),
    *("0x7f", "0o17", "1_000", "9" * 5000, "-" + "9" * 400, "1e-300", "0.1", "359", "12345678"),
)
_TEXTS = (
    *("!!int zz", "!!binary aGk=", "!!python/object:os.system {}", "&a [*a]", "*a", "null", "~"),
    *("true", "off", "{}", "[]", "''", '"\\x1b[31m"', '"\\e]0;hi\\a"', '"\\0"', '"\\U00110000"'),
    *('"\\uD800"', '"\\u202e"', "<<", "{<<: {a: 1}}", "a" * 700, "x" * 70000, "|", ">", "? a"),
    *("{title!r}", '"{title:>999999999}"', '"{title.__class__}"', '"{"', "100 %", "as needed"),
    *("idle", "full", "entry", "ground", "pivotal", "1.3 stall", "99999 stall", "entry - 5 nm"),
    *("stall - 200 kt", "0 ft", "-500 ft", "0 s", "0.1 s", "30 min", "0 deg", "90 deg", "-68 deg"),
    *("180 deg", "-3600 deg", "0.5 deg", "400 kt", "100000 ft", "9999999 nm", "first", "other"),
)
_SIGNS = (
    *("\x1b[2J", "\x1b]0;title\x07", "\x07", "\x00", "\x7f", "\x9b31m", "\r", "\x0b", "\x85"),
    *("\u00a0", "\u2028", "\u202e", "\u200d", "\ufeff", "\ufffd", "\ufffe", "\u3164", "e\u0301"),
    *("\U0001f468\u200d\U0001f469", "\u0661", "\u0410", "\U000e0041", "\u2066", "\ud7ff"),
)


def _lines(dice: random.Random, text: str) -> str:
    """A line dropped, doubled, moved, put further in or out, or cut short."""
    lines = text.splitlines()
    at = dice.randrange(len(lines))
    match dice.randrange(6):
        case 0:
            del lines[at]
        case 1:
            lines.insert(at, lines[at])
        case 2:
            lines.insert(dice.randrange(len(lines)), lines.pop(at))
        case 3:
            lines[at] = " " * dice.randrange(1, 5) + lines[at]
        case 4:
            lines[at] = lines[at].strip()
        case _:
            lines[at] = lines[at][: dice.randrange(len(lines[at]) + 1)]
    return "\n".join(lines) + "\n"


def _value(dice: random.Random, text: str) -> str:
    """One value typed anew."""
    found = list(re.finditer(r"(?<=: )[^,{}\[\]\n#]+", text))
    if not found:
        return text
    one = dice.choice(found)
    return text[: one.start()] + dice.choice(_TEXTS + _NUMBERS) + text[one.end() :]


def _figures(dice: random.Random, text: str) -> str:
    """Some numbers scaled, their units left as they are."""
    return _scaled(dice, text, (-1, 0, 0.01, 0.1, 0.5, 0.9, 1.1, 2, 3, 10, 1000))


def _drifted(dice: random.Random, text: str) -> str:
    """The same by less: the script may well be flown."""
    return _scaled(dice, text, (0.3, 0.5, 0.8, 0.95, 1.05, 1.2, 1.5, 2.0))


def _scaled(dice: random.Random, text: str, factors: tuple[float, ...]) -> str:
    found = list(re.finditer(r"(?<=[ \[])-?\d+(?:\.\d+)?(?= (?:ft|kt|deg|s|%|lb|hp|sq))", text))
    for one in sorted(
        dice.sample(found, min(len(found), dice.randint(1, 4))), key=lambda one: -one.start()
    ):
        scaled = float(one[0]) * dice.choice(factors)
        text = text[: one.start()] + f"{scaled:.10g}" + text[one.end() :]
    return text


def _exchanged(dice: random.Random, text: str) -> str:
    """Two values of the same script, each in the other's place."""
    found = list(re.finditer(r"(?<=: )[^,{}\[\]\n#]+", text))
    if len(found) < 2:
        return text
    one, other = sorted(dice.sample(found, 2), key=lambda match: match.start())
    return (
        text[: one.start()] + other[0] + text[one.end() : other.start()] + one[0]
        + text[other.end() :]
    )  # fmt: skip


def _words(dice: random.Random, text: str) -> str:
    """A word of the language in the place of another one."""
    pairs = (
        *(("eased", "late"), ("eased", "prompt"), ("as needed", "idle"), ("idle", "full")),
        *(("bank", "pitch"), ("pitch", "path"), ("path", "bank"), ("turn", "circle")),
        *(("circle", "pylon"), ("track", "turn"), ("altitude", "speed"), ("speed", "altitude")),
        *(("until", "time"), ("time", "until"), ("ends", "at"), ("through", "to"), ("to", "onto")),
        *(("height", "distance"), ("distance", "ahead"), ("first", "other"), ("across", "behind")),
        *(("checkpoint", "leg"), ("share", "turned"), ("is", "between"), ("entry", "pivotal")),
    )
    known = [pair for pair in pairs if re.search(rf"\b{pair[0]}\b", text)]
    if not known:
        return text
    old, new = dice.choice(known)
    found = list(re.finditer(rf"\b{old}\b", text))
    one = dice.choice(found)
    return text[: one.start()] + new + text[one.end() :]


def _signs(dice: random.Random, text: str) -> str:
    """Letters that no keyboard has, anywhere."""
    for _ in range(dice.randint(1, 4)):
        at = dice.randrange(len(text))
        text = text[:at] + dice.choice(_SIGNS) + text[at:]
    return text


def _nested(dice: random.Random, text: str) -> str:
    """Lists in lists, keys in keys."""
    deep = dice.choice((10, 300, 3000, 30000))
    opened, closed = dice.choice((("[", "]"), ("{a: ", "}"), ("- ", ""), ("? ", "")))
    return f"{text}\nextra: {opened * deep}{closed * dice.choice((0, deep))}\n"


def _aliases(dice: random.Random, text: str) -> str:
    """A few bytes that stand for many."""
    levels = [f"l{n}: &l{n} [{', '.join([f'*l{n - 1}'] * 9)}]" for n in range(1, 10)]
    bomb = "\n".join(["l0: &l0 [x, x, x, x, x, x, x, x, x]", *levels])
    return f"{bomb}\n{text}" if dice.randrange(2) else f"{text}\n{bomb}\n"


def _huge(dice: random.Random, text: str) -> str:
    """A list, or a text, longer than anybody would write it."""
    lines, many = text.splitlines(), dice.choice((20, 100, 1000, 20000, 100000))
    match dice.randrange(4):
        case 0:
            items = [at for at, line in enumerate(lines) if line.lstrip().startswith("- ")]
            if items:
                at = dice.choice(items)
                lines[at:at] = [lines[at]] * min(many, 20000)
        case 1:
            return re.sub(r"sides: \[.*\]", f"sides: [{', '.join(['first'] * many)}]", text)
        case 2:
            return text + "".join(f"key {n}: {n}\n" for n in range(many))
        case _:
            return text + "# " + "x" * 10 * many
    return "\n".join(lines)


def _noise(dice: random.Random, text: str) -> bytes:
    """Bytes that are no text, here and there or instead of it."""
    data = bytearray(text.encode())
    if dice.randrange(4) == 0:
        return dice.randbytes(dice.randrange(1, 5000))
    for _ in range(dice.randint(1, 8)):
        data[dice.randrange(len(data))] = dice.randrange(256)
    return bytes(data)


def _cut(dice: random.Random, text: str) -> str:
    """The beginning of a file, as a full disk leaves it."""
    return text[: dice.randrange(len(text))]


SPOILS: tuple[tuple[Spoil, int], ...] = (
    *((_lines, 6), (_value, 8), (_figures, 12), (_exchanged, 4), (_words, 4), (_signs, 3)),
    *((_nested, 2), (_aliases, 1), (_huge, 2), (_noise, 2), (_cut, 1)),
)
"""Each way to spoil a script, and how often it is chosen."""


def spoiled(dice: random.Random, text: str) -> bytes:
    """A script, spoiled in one to three ways."""
    if dice.randrange(4) == 0:
        return _drifted(dice, text).encode()
    found: str | bytes = text
    for spoil in dice.choices(*zip(*SPOILS, strict=True), k=dice.randint(1, 3)):
        if isinstance(found, bytes) or not found:
            break
        found = spoil(dice, found)
    return found if isinstance(found, bytes) else found.encode("utf-8", "surrogatepass")


def shipped() -> list[tuple[str, str]]:
    """The shelf and the text of every script that comes with the coach."""
    from coach.script.catalog import folders

    return [
        (kind, path.read_text(encoding="utf-8"))
        for kind in ("maneuvers", "airplanes", "warmups")
        for path in sorted(folders(kind)[1].glob("*.yaml"))
    ]


def peak_mb() -> float:
    """The most memory that this process had since this was asked last, MB."""
    status = Path("/proc/self/status").read_text(encoding="ascii")
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    return int(status.split("VmHWM:")[1].split()[0]) / 1024


class GivenUp(BaseException):
    """A command takes longer than anybody waits."""


def tried(words: tuple[str, ...]) -> list[tuple[str, str]]:
    """What fails when a command is run: which kind, and what can be said of it."""
    from click.testing import CliRunner

    from coach.commands.cli import main

    found: list[tuple[str, str]] = []
    peak_mb()
    began = resource.getrusage(resource.RUSAGE_SELF)
    try:
        signal.setitimer(signal.ITIMER_VIRTUAL, GIVEN_UP_S)
        result = CliRunner().invoke(main, words, color=True)
    except GivenUp:
        return [("over 2 s", f"given up after {GIVEN_UP_S:.0f} s")]
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0.0)
    ended = resource.getrusage(resource.RUSAGE_SELF)
    took = ended.ru_utime + ended.ru_stime - began.ru_utime - began.ru_stime
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        found.append(("traceback", "".join(traceback.format_exception(result.exception)[-3:])))
    if took > MOST_CPU_S:
        found.append(("over 2 s", f"{took:.2f} s"))
    if (peak := peak_mb()) > MOST_MB:
        found.append(("over 200 MB", f"{peak:.0f} MB"))
    said = result.output
    if any(
        unicodedata.category(letter) in ("Cc", "Cf", "Cs") and letter != "\n" for letter in said
    ):
        found.append(("control bytes", repr(said[:300])))
    if "Warning" in said.replace("WARNING", ""):
        found.append(("noise", said[:300]))
    return found


def attack(seed: int, count: int) -> tuple[Counter[str], list[str]]:
    """Try so many scripts: how many failed in each way, and what is to be told of them."""

    def give_up(*_: object) -> None:
        raise GivenUp

    signal.signal(signal.SIGVTALRM, give_up)
    resource.setrlimit(resource.RLIMIT_AS, (6 << 30, resource.RLIM_INFINITY))
    warnings.simplefilter("always")
    dice, failed, told = random.Random(seed), Counter[str](), list[str]()
    scripts = shipped()
    with tempfile.TemporaryDirectory() as home:
        os.environ["COACH_HOME"] = home
        for kind, _ in scripts:
            (Path(home) / "scripts" / kind).mkdir(parents=True, exist_ok=True)
        tried(("library",))  # what is imported first is no script's fault
        tried(("check", "lazy-eight"))
        for number in range(count):
            kind, text = dice.choice(scripts)
            path = Path(home, "scripts", kind, "mine.yaml")
            path.write_bytes(spoiled(dice, text))
            commands: list[tuple[str, ...]] = [("check", str(path))]
            if kind == "maneuvers":
                commands.append(("brief", "mine"))
            if kind == "airplanes":
                commands.append(("brief", "lazy-eight", "--airplane", "mine"))
            if number % LIBRARY_EVERY == 0:
                commands.append(("library",))
            for words in commands:
                for which, what in tried(words):
                    failed[which] += 1
                    told.append(f"script {number}, coach {words[0]}, {which}: {what}")
                    kept = Path(tempfile.gettempdir(), f"attack-{seed}-{number}.yaml")
                    kept.write_bytes(path.read_bytes())
            path.unlink()
    return failed, told


def main() -> None:
    """Attack in a process of its own, and print the row of a table."""
    parser = argparse.ArgumentParser(description="Attack with mutated scripts.")
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--count", type=int, required=True)
    given = parser.parse_args()
    with ProcessPoolExecutor(1, get_context("spawn")) as child:
        failed, told = child.submit(attack, given.seed, given.count).result()
    for line in told[:40]:
        print(line)
    cells = ", ".join(f"{which} {failed[which]}" for which in FAILURES)
    print(f"scripts: seed {given.seed}, tried {given.count}: {cells}")
    sys.exit(bool(failed))


if __name__ == "__main__":
    main()
