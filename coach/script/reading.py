"""Reading a YAML file into a checked value, or saying in one sentence what is wrong on which line.

The value types are pydantic models: the same declaration reads, checks and documents a script.
This module adds what a person needs when a check fails: the file, the line, what was found, what
is expected and the nearest valid choice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic_core import ErrorDetails

from coach.problems import Problem, nearest
from coach.script.contents import Flaw, Place, contents, text
from coach.script.quantities import like

_SHAPES = {
    "tuple_type": "expected a list: [one, two], or one entry a line, each after '- '",
    **dict.fromkeys(("int_parsing", "int_parsing_size"), "expected a whole number"),
    "int_type": "expected a whole number",
    "int_from_float": "expected a whole number",
    "float_parsing": "expected a number",
    "bool_parsing": "expected on or off",
    "bool_type": "expected on or off",
    "string_type": "expected a text",
    "model_type": "expected keys, each with its value",
    "dict_type": "expected names, each with its value",
    "too_short": "expected at least one entry",
    "string_too_short": "expected a text that is not empty",
}
"""What is expected where a value has another shape, by pydantic's name of the error."""

_SCRIPTS = ("maneuver", "airplane", "warmup")
"""The first key of each kind of script."""

_NAMES = {
    **dict.fromkeys(_SCRIPTS, "small letters, digits and hyphens, such as 'steep-turn'"),
    "name": "at most 24 letters, digits, spaces and hyphens",
}
_NAME = "a name that begins with a letter"
"""What a name is made of, by its key; that of an unknown is a key itself."""


def _spaced(field: str) -> str:
    return field.rstrip("_").replace("_", " ")


class Sheet(BaseModel):
    """A mapping in a script: frozen, its keys written with spaces, unknown keys refused."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        alias_generator=_spaced,
        populate_by_name=True,
        coerce_numbers_to_str=True,
    )


S = TypeVar("S", bound=Sheet)


Faults = Callable[[S], Iterable[tuple[Place, str]]]
"""Checks that need the whole value: each fault's place and its sentence."""


def _no_faults(_: Sheet) -> Iterable[tuple[Place, str]]:
    return ()


def read(path: Path, kind: type[S], faults: Faults[S] = _no_faults) -> S:
    """A YAML file as a checked value.

    Args:
        path: the file.
        kind: the value type to read it into.
        faults: what else can be wrong with it.

    Raises:
        Problem: the file cannot be read, is no YAML, or fails a check; one sentence with the line.
    """
    return parse(text(path), kind, faults, str(path))


def parse(written: str, kind: type[S], faults: Faults[S], name: str) -> S:
    """The same as `read`, from text; `name` stands for the file in sentences."""
    try:
        found = contents(written)
    except Flaw as flaw:
        raise Problem(f"{name}, line {flaw.line}: {_ended(flaw.said)}") from None
    if not isinstance(found.values, dict):
        raise Problem(f"{name}, line 1: expected keys such as '{_keys(kind)[0]}:'.")
    try:
        sheet = kind.model_validate(found.values)
    except ValidationError as error:
        # An unknown key explains a missing one, so it is told first; else the first in the file.
        details = sorted(
            _own(error.errors()),
            key=lambda one: (
                one["type"] != "extra_forbidden",
                found.line(_written(kind, one["loc"])),
            ),
        )
        place = _written(kind, details[0]["loc"])
        sentence = str(_problem(kind, details[0], place))
    else:
        fault = next(iter(faults(sheet)), None)
        if fault is None:
            return sheet
        place, sentence = fault
    raise Problem(f"{name}, line {found.line(place)}: {_ended(sentence)}")


def _own(details: list[ErrorDetails]) -> list[ErrorDetails]:
    """Errors without those that follow from others: a list is not short of what cannot be read."""
    within = {one["loc"][:length] for one in details for length in range(len(one["loc"]))}
    return [one for one in details if one["type"] != "too_short" or one["loc"] not in within]


def checked(kind: type[Sheet], key: str, given: object) -> Any:
    """One value of a sheet, checked as it is in a file.

    Raises:
        Problem: it cannot be; the field at fault is its key.
    """
    try:
        return getattr(kind.model_validate({key: given}), key)
    except ValidationError as error:
        problem = _problem(kind, error.errors()[0], (key,))
        raise Problem(_ended(problem.said), problem.field) from None


def _ended(sentence: str) -> str:
    return sentence if sentence.endswith(("?", ".")) else f"{sentence}."


def _models(annotation: object) -> Iterable[type[BaseModel]]:
    """Every model an annotation can hold, through lists, dicts and unions."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from _models(part)


def _written(kind: type[BaseModel], place: Place) -> Place:
    """The place as written in the file: pydantic adds the name of a union's branch."""
    branches = {model.__name__ for model in _every_model(kind)}
    return tuple(part for part in place if part not in branches and not _is_branch(part))


def _is_branch(part: str | int) -> bool:
    return isinstance(part, str) and ("[" in part or part in ("int", "float", "str", "[key]"))


def _every_model(kind: type[BaseModel]) -> set[type[BaseModel]]:
    found: set[type[BaseModel]] = set()
    waiting = [kind]
    while waiting:
        model = waiting.pop()
        if model not in found:
            found.add(model)
            for field in model.model_fields.values():
                waiting.extend(_models(field.annotation))
    return found


def _keys(model: type[BaseModel]) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items()]


def _keys_at(kind: type[BaseModel], place: Place) -> list[str]:
    """The keys that may stand at a place."""
    models: list[type[BaseModel]] = [kind]
    for part in place:
        if isinstance(part, str):
            inner = [
                found
                for model in models
                for name, field in model.model_fields.items()
                if (field.alias or name) == part
                for found in _models(field.annotation)
            ]
            models = inner or models
    return [key for model in models for key in _keys(model)]


def _problem(kind: type[BaseModel], error: ErrorDetails, place: Place) -> Problem:
    """One pydantic error in the words of somebody writing a script, and the key at fault."""
    key = next((str(part) for part in reversed(place) if isinstance(part, str)), "the file")
    match error["type"]:
        case "extra_forbidden" if place in [(script,) for script in _SCRIPTS]:
            return Problem(f"found a script that begins '{key}:', expected '{_keys(kind)[0]}:'")
        case "extra_forbidden":
            return Problem(f"unknown key '{key}'{nearest(key, _keys_at(kind, place[:-1]))}")
        case "missing":
            return Problem(f"the key '{key}' is missing")
        case "literal_error" if not isinstance(error["input"], (list, dict)):
            found = str(error["input"])
            choices = [word.strip("'") for word in _choices(error)]
            return Problem(f"found '{found}'{nearest(found, choices)}", key)
        case "too_long":
            most = error["ctx"]["max_length"]
            return Problem(f"found {len(error['input']):,} entries, expected at most {most}", key)
        case "string_pattern_mismatch":
            return Problem(f"found '{error['input']}', expected {_NAMES.get(key, _NAME)}", key)
        case "value_error":
            return Problem(str(error["ctx"]["error"]), key)
        case "greater_than_equal" | "less_than_equal" as bound:
            words, limit = ("at least", "ge") if bound[0] == "g" else ("at most", "le")
            asked = like(error["input"], error["ctx"][limit])
            return Problem(f"found {error['input']}, expected {words} {asked}", key)
        case name:
            wanted = _SHAPES.get(name) or error["msg"][0].lower() + error["msg"][1:]
            shown = error["input"]
            found = f"found {shown!r}, " if isinstance(shown, (str, int, float)) else ""
            return Problem(f"{found}{wanted.replace('input should', 'it should')}", key)


def _choices(error: ErrorDetails) -> list[str]:
    expected = str(error["ctx"]["expected"])
    return [word.strip() for word in expected.replace(" or ", ", ").split(",")]
