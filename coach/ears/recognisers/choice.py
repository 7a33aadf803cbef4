"""Which recogniser hears: the one place where that is decided, by what is installed."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

from coach.ears.recognisers import weights
from coach.ears.recognisers.recogniser import Recogniser
from coach.ears.recognisers.weights import Weights
from coach.problems import Problem

INSTALL = "pip install '.[listen]' in the coach's own folder"


@dataclass(frozen=True)
class Choice:
    """The ears that hear.

    Attributes:
        weights: what the full ears know; None for the light ones.
    """

    weights: Weights | None

    @property
    def name(self) -> str:
        """What to call them."""
        return "the full ears" if self.weights is not None else "the light ears"

    def opened(self) -> tuple[Recogniser, str]:
        """The recogniser, ready to learn, and in words what it is and where it is from.

        Raises:
            Problem: its weights cannot be read, or are not those that they should be.
        """
        if self.weights is None:
            from coach.ears.recognisers.light import Light

            return Light(), f"{self.name} (pocketsphinx, with the English model that it brings)"
        from coach.ears.recognisers.transcripts import Transcriber
        from coach.ears.recognisers.whisper import Whisper

        # They are read once more beside being loaded, which costs no time.
        with ThreadPoolExecutor(1) as beside:
            checking = beside.submit(self.weights.checked)
            try:
                whisper = Whisper(Transcriber(self.weights.folder))
            except (RuntimeError, ValueError, OSError) as error:
                reason = " ".join(str(error).split()).rstrip(".")
                raise Problem(f"{self.weights.folder}: cannot be loaded: {reason}.") from None
        told = f"weights from {self.weights.origin}, sha256 {checking.result()[:12]}..."
        return whisper, f"{self.name} (Whisper by CTranslate2, {told})"


def choice(folder: str = "") -> Choice:
    """The ears that hear on this machine; nothing is loaded yet.

    Args:
        folder: where other weights lie, if the user names a folder; "" for the packaged ones.

    Raises:
        Problem: neither are installed; or there are no weights in that folder, or nothing to run
            them with.
    """
    if find_spec("pocketsphinx") is None:  # the dictionary of the full ears is in it too
        raise Problem(f"Listening needs the extra “listen”: {INSTALL}.")
    runs = find_spec("ctranslate2") is not None
    if folder:
        if not runs:
            raise Problem(f"The weights in {folder} need the extra “listen”: {INSTALL}.")
        return Choice(weights.named(Path(folder)))
    return Choice(weights.packaged() if runs else None)
