"""Promises of the schema: an editor says of a script what the coach says of it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Annotated, Any

import jsonschema
import jsonschema_rs
import pytest
import regress
import yaml
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st
from pydantic import create_model

from coach.commands.cli import main
from coach.flight.setting import PowerSetting
from coach.problems import Problem
from coach.rehearsal.check import KINDS
from coach.script.catalog import find, names
from coach.script.maneuver import Checkpoint, Maneuver, Phrasing
from coach.script.quantities import UNITS, Quantity
from coach.script.reading import Sheet, checked
from coach.script.schema import schema
from coach.script.targets import OpenShare, OpenTime, TargetLength, TargetSpeed
from coach.script.template import Kind, begin
from coach.words import plain

SHIPPED = [
    (kind, name) for kind, shelf in zip(KINDS, ("maneuvers", "airplanes"), strict=True)
    for name in names(shelf)
]  # fmt: skip

Coach = Callable[..., Result]


@pytest.fixture
def coach(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Coach:
    """The command, run in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return lambda *words: CliRunner().invoke(main, words)


def refused(kind: Kind, text: str) -> bool:
    """Whether the schema refuses a script: two validators of different makers, at one."""
    described, read = schema(KINDS[kind]), yaml.safe_load(text)
    by_one = jsonschema.Draft202012Validator(described).is_valid(read)
    assert jsonschema_rs.Draft202012Validator(described).is_valid(read) is by_one
    return not by_one


@pytest.mark.parametrize("kind", KINDS)
def test_the_schema_is_printed_and_is_a_valid_one(coach: Coach, kind: Kind) -> None:
    printed = json.loads(coach("schema", kind).output)
    assert printed == json.loads(json.dumps(schema(KINDS[kind])))
    assert printed["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(printed)
    jsonschema_rs.meta.validate(printed)


def patterns(part: Any) -> Iterator[str]:
    """Every pattern of a schema, at any depth."""
    if isinstance(part, dict):
        if isinstance(part.get("pattern"), str):
            yield part["pattern"]
        yield from part.get("patternProperties", ())
        part = list(part.values())
    if isinstance(part, list):
        for inner in part:
            yield from patterns(inner)


@pytest.mark.parametrize("kind", KINDS)
def test_every_pattern_is_one_of_ecma_262_as_editors_read_it(kind: Kind) -> None:
    """JSON Schema draft 2020-12, section 6.4 of the core: ECMA-262, with unicode in mind."""
    found = set(patterns(schema(KINDS[kind])))
    assert len(found) > 10
    for one in found:
        regress.Regex(one, "u")
    with pytest.raises(regress.RegressError):  # it is strict
        regress.Regex(r"sq\ ft", "u")


@pytest.mark.parametrize(("kind", "name"), SHIPPED)
def test_every_shipped_script_is_valid_by_the_schema(kind: Kind, name: str) -> None:
    assert not refused(kind, text_of(kind, name))


def text_of(kind: Kind, name: str) -> str:
    """A script of the library."""
    return find(f"{kind}s", name).read_text(encoding="utf-8")


@pytest.mark.parametrize("kind", KINDS)
def test_a_new_script_is_valid_by_the_schema(tmp_path: Path, kind: Kind) -> None:
    path = begin(kind, str(tmp_path / "mine.yaml"))
    assert not refused(kind, path.read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    ("kind", "old", "new"),
    [
        ("maneuver", "bank: {to: 15 deg", "bnak: {to: 15 deg"),
        ("maneuver", "height: 3000 ft", "height: 3000"),
        ("maneuver", "height: 3000 ft", "height: 3000 kt"),
        ("maneuver", "wind: across", "wind: sideways"),
        ("maneuver", "sides: [first", "sides: [frist"),
        ("maneuver", "is: stall + 7.5 kt", "is: stal + 7.5 kt"),
        ("maneuver", "speed: [maneuvering, cruise]", "speed: [maneuvring]"),
        ("maneuver", "{rudder}.", "{ruder}."),
        ("maneuver", "time: time to 90", "time: 7"),
        ("maneuver", "time: time to 90", "time: 7 sec"),
        ("maneuver", "to: highest pitch", "to: 17"),
        ("maneuver", "bank: {to: 30 deg}", "bank: {to: 30 deg, steady: often}"),
        ("maneuver", "kind: control", "kind: controls"),
        ("maneuver", 'ends: "climbing, bank building"', "when: later"),
        ("maneuver", "title: Lazy eight\n", ""),
        ("maneuver", "maneuver: lazy-eight", "maneuver: Lazy eight"),
        ("maneuver", "  time to 90:", "  1 time to 90:"),
        ("maneuver", "is: stall + 7.5 kt", "is: stall + -7.5 kt"),
        ("maneuver", "is: stall + 7.5 kt", "is: -1.1 stall"),
        ("maneuver", "is: stall + 7.5 kt", "is: ١.٢ stall"),
        ("maneuver", "bank: {to: 15 deg", "bank: {to: ١٥ deg"),
        ("maneuver", '{name: "45"', '{name: "45!"'),
        ("airplane", "stall: 52 kt", "stall: 52"),
        ("airplane", "stall: 52 kt", "stall: 52 mph"),
        ("airplane", "area: 170 sq ft", "area: 170 ft"),
        ("airplane", "propeller: fixed pitch", "propeller: fixed"),
        ("airplane", "glide ratio: 9.2", "glide ratio: 92"),
        ("airplane", "glide ratio: 9.2\n", ""),
        ("airplane", "invented: true", "invented: maybe"),
        ("airplane", "power: 75 %", "power: 0.75"),
    ],
)
def test_mistakes_are_seen_by_the_schema_and_by_the_reader(
    coach: Coach, kind: Kind, old: str, new: str
) -> None:
    right = text_of(kind, "lazy-eight" if kind == "maneuver" else "meadow-four")
    wrong = right.replace(old, new, 1)
    assert wrong != right
    assert refused(kind, wrong)
    Path("wrong.yaml").write_text(wrong, encoding="utf-8")
    assert coach("check", "wrong.yaml").exit_code == 1


WRITTEN: dict[str, Any] = {
    **{kind: Annotated[float, Quantity(kind)] for kind in UNITS},
    "a speed to compare with": TargetSpeed,
    "a length to compare with": TargetLength,
    "a time or an unknown": OpenTime,
    "a power or an unknown": OpenShare,
    "a power setting": PowerSetting,
    "something said": Phrasing,
    "a maneuver's name": Maneuver.model_fields["maneuver"].rebuild_annotation(),
    "a checkpoint's name": Checkpoint.model_fields["name"].rebuild_annotation(),
}
"""What a script holds that only a pattern can tell an editor of."""


class Form:
    """What of it is printed, the engines that read that, and what reads the script."""

    def __init__(self, annotation: Any) -> None:
        self.kind = create_model("One", __base__=Sheet, value=(annotation, ...))
        described = schema(self.kind)["properties"]["value"]
        self.pattern = regress.Regex(described["pattern"], "u")
        self.validators = (
            jsonschema.Draft202012Validator(described),
            jsonschema_rs.Draft202012Validator(described),
        )


FORMS = {what: Form(annotation) for what, annotation in WRITTEN.items()}

NUMBERS = ("0", "7", "15", "100", "1,000", "10,00", ".5", "2.5", "30.", "2300", "١", "")
SIGNS = ("", "+", "-", " - ", "--")
SPACES = ("", " ", "\N{NO-BREAK SPACE}")
WORDS = (
    *("stall", "entry", "best glide", "ground", "full", "idle", "as needed", "first loop", "a-b"),
    *("{", "}", "{name}", "{{", "}}", "{rudder!r}", "Right rudder.", "Z", "_", "Loop 1"),
    *("é", "Ж", "中", "٣", "→", "€", "×", "!", "\N{GREEK QUESTION MARK}", ""),
)


def texts(units: tuple[str, ...]) -> st.SearchStrategy[str]:
    """Much that is nearly what is expected and some that is, as the reader takes it from a file."""
    number = st.tuples(*map(st.sampled_from, (SIGNS, NUMBERS, SPACES, units))).map("".join)
    word = st.sampled_from(WORDS)
    some = st.one_of(number, word, st.tuples(number, word).map(" ".join))
    more = st.lists(some, max_size=3).map("".join)
    return st.one_of(number, word, st.tuples(word, number).map("".join), more).map(plain)


BOUNDS = re.compile(r"expected (at most|one below|no more than|-?[\d.]+( ?\S+)? to) ")
"""How the reader says that a number is too large or too small, which no pattern knows."""


@pytest.mark.parametrize("what", WRITTEN)
@given(data=st.data())
def test_whatever_is_written_the_schema_and_the_reader_agree(
    what: str, data: st.DataObject
) -> None:
    units = tuple({**UNITS, "a power setting": ("%", "rpm")}.get(what, ())) or tuple(
        unit for those in UNITS.values() for unit in those
    )
    form, text = FORMS[what], data.draw(texts(units))
    valid = form.validators[0].is_valid(text)
    assert form.validators[1].is_valid(text) is valid
    assert (form.pattern.find(text) is not None) is valid or not text
    try:
        checked(form.kind, "value", text)
    except Problem as problem:
        assert not valid or BOUNDS.search(problem.said), problem.said
    else:
        assert valid


def keys(part: Any) -> list[dict[str, Any]]:
    """Every key's schema, at any depth."""
    found = list(part.get("properties", {}).values())
    for inner in part.get("$defs", {}).values():
        found += keys(inner)
    return found


def test_a_text_that_may_be_an_unknown_s_name_says_so() -> None:
    described = schema(KINDS["maneuver"])["$defs"]
    for place, key in (("Leg", "time"), ("Leg", "power"), ("Turn", "bank"), ("Entry", "power")):
        said = json.dumps(described[place]["properties"][key])
        assert "name of an unknown" in said
    assert all("default" not in key or key["default"] is not None for key in keys(described["Leg"]))
