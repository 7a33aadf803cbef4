"""What a YAML file of a student's holds: texts, numbers, lists and mappings, and each one's line.

The door of every script. A file is read as far as a script can be long, and taken for nothing but
data: what YAML can write besides (aliases, tags, merged keys, dates) is refused or stays a text.
Every text and every key comes through `coach.words.plain`.
"""

from __future__ import annotations

import math
import re
import stat
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from coach.problems import Problem
from coach.words import counted, plain, shown

Place = tuple[str | int, ...]
"""Where in a file a value stands: keys and list positions from the top."""

LARGEST_KB = 64
"""The largest file that is read; seven times the longest script of the library."""

MOST_VALUES = 4000
"""Keys, texts and lists in one script; the library's longest has some 400."""

DEEPEST = 8
"""Lists and mappings within each other; scripts need five."""

LONGEST_TEXT = 600
"""Letters of one text."""

_SLIPS = {
    "mapping values are not allowed": "a second colon: put a text that has one in quotes",
    "could not find expected ':'": "a key without its colon, or a text out of line",
    "expected <block end>": "this does not line up with what stands above it; a text that begins "
    "with a brace or a quote must stand in quotes as a whole",
    "found character '\\t'": "a tab: indent with spaces",
    "expected ',' or '}'": "a brace { that is not closed, or a comma that is missing",
    "expected ',' or ']'": "a bracket [ that is not closed, or a comma that is missing",
    "found unexpected end of stream": "a quote that is not closed",
}
"""How PyYAML's commonest complaints begin, and what they mean to somebody who types a script."""

_WORDS = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL")),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
}
"""What is no text without quotes (YAML 1.2, section 10.3.2): ``no`` and ``on`` are texts."""

_NUMBER = re.compile(r"-?(?:0|[1-9]\d*)(\.\d+)?([eE][-+]?\d+)?", re.ASCII)
"""A number as YAML 1.2, section 10.2.1.3, has it; what has a zero before it, as a heading may, is
left a text."""


class Flaw(Exception):
    """Why a text is no script: its line, and a sentence without the full stop."""

    def __init__(self, line: int, said: str) -> None:
        super().__init__(line, said)
        self.line = line
        self.said = said


@dataclass
class Contents:
    """What a text holds.

    Attributes:
        values: lists, dicts with texts as keys, texts, numbers, truth values and None.
        lines: the line of each, by its place.
    """

    values: Any
    lines: dict[Place, int]

    def line(self, place: Place) -> int:
        """The line of the deepest part of the place that stands in the file."""
        while place and place not in self.lines:
            place = place[:-1]
        return self.lines.get(place, 1)


def loaded(path: Path) -> bytes:
    """The bytes of a file that is as small as a script.

    Raises:
        Problem: there is none, it cannot be read, or it is too large.
    """
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):  # a pipe would be waited for, a device has no end
            what = "a folder" if stat.S_ISDIR(found.st_mode) else "no file that holds text"
            raise Problem(f"{path}: this is {what}, expected a script.")
        with path.open("rb") as file:
            content = file.read(LARGEST_KB * 1024 + 1)
    except OSError as error:
        raise Problem(f"{path}: {error.strerror or error}.") from None
    except ValueError:  # a name with a zero byte in it
        raise Problem(f"{path}: this cannot be the name of a file.") from None
    if len(content) > LARGEST_KB * 1024:
        size = max(len(content), found.st_size) / 1024
        raise Problem(
            f"{path}: found a file of {math.ceil(size):,} KiB, expected at most {LARGEST_KB} KiB: "
            "no script is so long."
        )
    return content


def text(path: Path) -> str:
    """The text of such a file.

    Raises:
        Problem: as for `loaded`; or it is not text in UTF-8.
    """
    try:
        return loaded(path).decode("utf-8")
    except UnicodeDecodeError:
        raise Problem(f"{path}: this is not a text file in UTF-8.") from None


def contents(written: str) -> Contents:
    """What a text in YAML holds.

    Raises:
        Flaw: it is no YAML, or more than a script may be.
    """
    parser = _Parser(written)
    return Contents(parser.whole(), parser.lines)


def first_key(written: str) -> str | None:
    """The first word in YAML, which is the first key of a script; None where there is none."""
    scalars = (event for event in _Parser(written).events if isinstance(event, yaml.ScalarEvent))
    try:
        return next((event.value for event in scalars), None)
    except Flaw:
        return None


@dataclass
class _Parser:
    """PyYAML's events made into values, counted on the way.

    The events come from its Python code: the library in C calls itself for whatever is nested.
    """

    written: str
    lines: dict[Place, int] = field(default_factory=dict)
    left: int = MOST_VALUES

    def __post_init__(self) -> None:
        self.events = self._events()

    def _events(self) -> Iterator[yaml.Event]:
        """Every event; what PyYAML has against the text is a flaw."""
        loader = None
        try:
            loader = yaml.SafeLoader(self.written)
            yield from iter(loader.get_event, None)
        except yaml.reader.ReaderError as error:
            line = self.written.count("\n", 0, error.position) + 1
            sign = f"U+{ord(self.written[error.position]):04X}"
            raise Flaw(line, f"found the character {sign}, which cannot be shown") from None
        except yaml.MarkedYAMLError as error:
            raise _slip(error) from None
        except (ValueError, OverflowError):  # such as an escaped letter that there is not
            line = loader.line + 1 if loader else 1
            raise Flaw(line, "not valid YAML: a number in it cannot be") from None

    def whole(self) -> Any:
        """The one document that there is; nothing but comments is no keys."""
        found: Any = {}
        documents = 0
        for event in self.events:
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    raise Flaw(_line(event), "a second document begins here, expected one script")
            elif isinstance(event, yaml.NodeEvent):
                found = self._value(event, ())
        return found

    def _value(self, event: yaml.Event, place: Place) -> Any:
        """What begins with an event; its line is noted."""
        self.lines.setdefault(place, _line(event))
        self._look_at(event, len(place))
        if isinstance(event, yaml.MappingStartEvent):
            return self._mapping(place)
        if isinstance(event, yaml.SequenceStartEvent):
            found: list[Any] = []
            while not isinstance(event := next(self.events), yaml.SequenceEndEvent):
                found.append(self._value(event, (*place, len(found))))
            return found
        assert isinstance(event, yaml.ScalarEvent), "no other one begins a value"
        bare = event.implicit[0]
        if bare and event.value in _WORDS:
            return _WORDS[event.value]
        if bare and (match := _NUMBER.fullmatch(event.value)):
            number = float(event.value)
            if math.isfinite(number):
                return number if match[1] or match[2] else int(event.value)
        return _text(event)

    def _mapping(self, place: Place) -> dict[str, Any]:
        found: dict[str, Any] = {}
        while not isinstance(event := next(self.events), yaml.MappingEndEvent):
            self._look_at(event, len(place))
            if not isinstance(event, yaml.ScalarEvent):
                raise Flaw(_line(event), "found a list or keys before a colon, expected a word")
            key = _text(event)
            if key in found:
                raise Flaw(_line(event), f"the key '{key}' stands here a second time")
            inner = (*place, key)
            self.lines[inner] = _line(event)
            found[key] = self._value(next(self.events), inner)
        return found

    def _look_at(self, event: yaml.Event, depth: int) -> None:
        """Refuse what no script needs."""
        line = _line(event)
        if isinstance(event, yaml.AliasEvent):
            raise Flaw(line, f"found an alias (*{_short(event.anchor or '')}): write it out")
        if (tag := getattr(event, "tag", None)) is not None:
            tag = _short(tag.replace("tag:yaml.org,2002:", "!!"))
            raise Flaw(line, f"found a tag ({tag}): leave it out, or put the text in quotes")
        if depth > DEEPEST:
            raise Flaw(line, "nested too deeply to be a script")
        self.left -= 1
        if self.left < 0:
            raise Flaw(line, f"more than {counted(MOST_VALUES, 'value')}: no script is so long")


def _text(event: yaml.ScalarEvent) -> str:
    """A text, as it is kept."""
    try:
        found = plain(event.value)
    except ValueError as error:
        raise Flaw(_line(event), str(error)) from None
    if len(found) > LONGEST_TEXT:
        raise Flaw(
            _line(event), f"found a text of {len(found):,} letters, expected at most {LONGEST_TEXT}"
        )
    return found


def _line(event: yaml.Event) -> int:
    return event.start_mark.line + 1 if event.start_mark else 1


def _short(found: str) -> str:
    """As much of something found as fits into a sentence."""
    return shown(found if len(found) <= 40 else f"{found[:40]}...")


def _slip(error: yaml.MarkedYAMLError) -> Flaw:
    """The line of a slip of the pen, and what it is, in the words of somebody who types."""
    problem = error.problem or ""
    words = next((words for start, words in _SLIPS.items() if problem.startswith(start)), "")
    # What was left open is told where it was opened, and not where its end was missed.
    opened = words and error.context_mark and not problem.startswith("expected <block end>")
    mark = error.context_mark if opened else error.problem_mark or error.context_mark
    return Flaw(mark.line + 1 if mark else 1, words or f"not valid YAML: {_short(problem)}")
