"""What the coach says when something given to it cannot be used: one clear sentence."""

from __future__ import annotations

import contextlib
import difflib
import glob
import os
import secrets
import time
from collections.abc import Iterable, Iterator
from pathlib import Path

_LEFT_S = 3600.0
"""Nothing takes so long between two writes: who began such a file is gone."""


class Problem(Exception):
    """Something the person can put right. Its text is one sentence, printed without a traceback.

    Attributes:
        said: what is wrong, without the name of the field.
        field: which value given from outside is at fault, by its name in Python; "" where it is
            none. The command line names its option, the page its form field: see `named`.
    """

    def __init__(self, said: str, field: str = "") -> None:
        """Say what is wrong, and with which field."""
        super().__init__(said, field)
        self.said = said
        self.field = field

    def __str__(self) -> str:
        """The sentence with the field as Python has it."""
        return self.named(self.field)

    def named(self, name: str) -> str:
        """The sentence with the field under another name; "" leaves it out."""
        return f"{name}: {self.said}" if name else self.said


def nearest(word: str, choices: Iterable[str]) -> str:
    """The end of a sentence that offers valid choices.

    Args:
        word: what was found.
        choices: what would have been accepted.

    Returns:
        ``"; did you mean lazy-eight?"`` where one choice is close or some begin so, else all of
        them and a full stop.
    """
    known = sorted(set(choices))
    begun = [choice for choice in known if word and choice.startswith(word.lower())]
    close = begun or difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.5)
    if 0 < len(close) <= 3:
        return f"; did you mean {' or '.join(close)}?"
    return f"; choose from {', '.join(known)}." if known else "."


def ending(path: Path, *allowed: str) -> str:
    """The ending of a file's name, in lower case with its dot.

    Raises:
        Problem: it is none of those allowed.
    """
    found = path.suffix.lower()
    if found not in allowed:
        raise Problem(f"{path}: its name must end in {' or '.join(allowed)}.")
    return found


@contextlib.contextmanager
def writing(path: Path) -> Iterator[None]:
    """Whatever the system has against writing to a path becomes one sentence.

    Raises:
        Problem: the place cannot be written.
    """
    try:
        yield
    except OSError as error:
        raise Problem(f"{path}: cannot be written: {error.strerror or error}.") from None


@contextlib.contextmanager
def written(path: Path, *, private: bool = False) -> Iterator[Path]:
    """A path to write to, which becomes ``path`` only when everything went well.

    Args:
        path: where it is to be.
        private: whether nobody but this machine's user may read it.

    Raises:
        Problem: the place cannot be written; nothing is left behind there, nor what was left by a
            coach that was killed.
    """
    # Made here and now under a name that nobody knows before: so nobody can have laid a link there
    # that leads to a file of somebody else's.
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        with writing(path):
            _clear_away(path)
            os.close(os.open(part, os.O_CREAT | os.O_EXCL, 0o600 if private else 0o666))
            yield part
            part.replace(path)
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


class _Tried(Exception):
    """A file can be written there, and need not be yet."""


def can_be_written(path: Path) -> None:
    """Try it, where what is to be written takes long to make.

    Raises:
        Problem: the place cannot be written.
    """
    with contextlib.suppress(_Tried), written(path, private=True):
        raise _Tried


def _clear_away(path: Path) -> None:
    """Remove what coaches left there that were killed as they wrote it."""
    for part in path.parent.glob(f".{glob.escape(path.name)}.{'[0-9a-f]' * 8}.part"):
        with contextlib.suppress(OSError):
            if time.time() - part.lstat().st_mtime > _LEFT_S:
                part.unlink()
