"""What a student has chosen once and for all on this machine: voice, support, sounds."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Annotated, Any, Literal

import yaml
from pydantic import BeforeValidator, Field

from coach.callouts.support import SupportChoice
from coach.problems import Problem, nearest, writing, written
from coach.script.quantities import Quantity
from coach.script.reading import Sheet, checked, read
from coach.script.standards import Checkride
from coach.shelf import data_folder, made
from coach.sound.bed import LEVELS
from coach.sound.voices import WORDS_PER_MINUTE
from coach.words import plain

FILE_NAME = "settings.yaml"


def _switch(found: object) -> object:
    word = ("on" if found else "off") if isinstance(found, bool) else str(found)
    return {"on": "100 %", "off": "0 %"}.get(word, found)


Level = Annotated[float, Quantity("share", "0 %", "100 %"), BeforeValidator(_switch)]
"""How loud a part of the airplane is heard: a share of its full level, or on or off."""


class Fitted(Sheet):
    """How far a voice must stand out at one microphone, as ``coach listen`` found it there.

    Attributes:
        begins: to begin an utterance, in dB as `coach.ears.fitting.Fitting` has it.
        goes_on: down to this it goes on.
    """

    begins: Annotated[float, Field(ge=0.05, le=12.0)]
    goes_on: Annotated[float, Field(ge=0.05, le=12.0)]


class Settings(Sheet):
    """The settings; every one has a value where none was chosen.

    Attributes:
        voice: a name that ``coach voices`` lists, or "" for the usual one.
        rate: words a minute.
        niner: whether the digit nine is spoken "niner".
        support: how much the coach says, or ``"auto"``: as much as the last runs call for.
        checkride: what the student learns for, ``"private"`` and so on; "" where that is not known.
        output: a name that ``coach outputs`` lists, or "" for the usual one.
        airflow: the air, following airspeed.
        engine: the engine, following power and speed.
        balance: the tone that leans to where rudder is needed.
        flutter: the unrest near the stall.
        ticks: three light ticks before a checkpoint.
        hand_tone_deg: further than this off the plan, in pitch or in bank, the hand that holds a
            phone hears a soft tone; 0 for never.
        weights: a folder with other weights of Whisper for CTranslate2, which the ears hear with,
            or "" for those that are installed.
        listening: what ``coach listen`` fitted to the student, by the microphone's name.
    """

    voice: str = ""
    rate: Annotated[int, Field(ge=60, le=500)] = WORDS_PER_MINUTE
    niner: bool = False
    support: SupportChoice = "auto"
    checkride: Literal["", Checkride] = ""
    output: str = ""
    airflow: Level = 1.0
    engine: Level = 1.0
    balance: Level = 1.0
    flutter: Level = 1.0
    ticks: Level = 1.0
    hand_tone_deg: Annotated[float, Field(ge=0.0, le=90.0)] = 0.0
    weights: str = ""
    listening: dict[str, Fitted] = Field(default={})

    @property
    def asked_at(self) -> Checkride | None:
        """The student's checkride, where it is known."""
        return self.checkride or None

    @property
    def levels(self) -> dict[str, float]:
        """How loud each part of the airplane is, 0 to 1."""
        return {part: getattr(self, part) for part in LEVELS}


USUAL = Settings()
"""What the coach comes with."""

_unkept: dict[Path, Settings] = {}
"""What was chosen and cannot be written, by the file."""


def load() -> Settings:
    """The settings of this machine.

    Raises:
        Problem: the file holds something else, by line.
    """
    path = _path()
    if path in _unkept:
        return _unkept[path]
    # Not whether it exists, which a folder that may not be entered does not tell.
    return read(path, Settings) if os.path.lexists(path) else USUAL


def change(settings: Settings, pairs: Iterable[str]) -> Settings:
    """The settings with some changed.

    Args:
        settings: as they are.
        pairs: such as ``"rate=160"``, ``"engine=off"``, ``"airflow=40 %"``; ``"voice="`` goes back
            to what the coach comes with.

    Raises:
        Problem: a name or a value that cannot be.
    """
    for pair in pairs:
        name, equals, value = (part.strip() for part in pair.partition("="))
        if not equals:
            raise Problem(f"Found '{pair}', expected NAME=VALUE such as rate=160.")
        if name not in Settings.model_fields:
            raise Problem(f"There is no setting '{name}'{nearest(name, Settings.model_fields)}")
        if value:
            if name == "listening":
                raise Problem("coach listen fits that; listening= alone forgets it.", name)
            try:
                chosen = checked(Settings, name, plain(value))
            except ValueError as error:
                raise Problem(f"{error}.", name) from None
        else:
            chosen = Settings.model_fields[name].default
        settings = settings.model_copy(update={name: chosen})
    return settings


def keep(settings: Settings) -> Path:
    """Write the settings down, those alone that differ from what the coach comes with.

    Returns:
        The file.

    Raises:
        Problem: it cannot be written.
    """
    path = _path()
    chosen = dict(told(settings, chosen_only=True))
    with writing(path):
        made(path.parent)
    with written(path) as part:
        part.write_text(yaml.safe_dump(chosen, sort_keys=False), encoding="utf-8")
    _unkept.pop(path, None)
    return path


def learning_for(checkride: str) -> tuple[Settings, str]:
    """The settings with what is learned for from now on, kept; "" for no checkride in particular.

    Returns:
        Also why it is not kept, a sentence, or "": it holds as long as this program then.

    Raises:
        Problem: there is no such checkride, or the settings cannot be read.
    """
    before = load()
    chosen = change(before, [f"checkride={checkride}"])
    try:
        if chosen != before:
            keep(chosen)
    except Problem as problem:
        _unkept[_path()] = chosen
        return chosen, f"{problem} What you learn for holds for now."
    return chosen, ""


def fit(microphone: str, fitted: Fitted) -> None:
    """Keep what fits a microphone from now on.

    Raises:
        Problem: the settings cannot be read or written.
    """
    before = load()
    known = {**before.listening, microphone: fitted}
    keep(before.model_copy(update={"listening": known}))


def told(settings: Settings, *, chosen_only: bool = False) -> Iterator[tuple[str, object]]:
    """Each setting and its value as one would write it."""
    for name, field in Settings.model_fields.items():
        value = getattr(settings, name)
        if not (chosen_only and value == field.default):
            yield name, _written(name, value)


def _written(name: str, value: Any) -> object:
    if name == "listening":
        return {one: fitted.model_dump(by_alias=True) for one, fitted in value.items()}
    return f"{value:.0%}".replace("%", " %") if name in LEVELS else value


def _path() -> Path:
    return data_folder() / FILE_NAME
