"""The ways to a loudspeaker, each imported only when it is used, and what they have in common."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt


class Fill(Protocol):
    """Hands a device its next frames; a device calls it on a thread of its own."""

    def __call__(
        self, out: npt.NDArray[np.float32], delay_s: float, *, fell_behind: bool = False
    ) -> None:
        """Overwrite ``out``.

        Args:
            out: frames by one or two channels.
            delay_s: seconds from now until the first of these frames is heard.
            fell_behind: the device ran out of frames before it asked.
        """


class Device(Protocol):
    """An open output; ``open_device`` in a module of this package makes one."""

    @property
    def name(self) -> str:
        """What it is called in a sentence."""

    @property
    def alive(self) -> bool:
        """Whether the device still asks for frames, as far as it knows."""

    def start(self) -> None:
        """Begin to ask for frames."""

    def close(self) -> None:
        """Fall silent at once and let the device go."""


@dataclass(frozen=True)
class Output:
    """One place where sound can go.

    Attributes:
        name: what ``--output`` takes.
        backend: through which library it is reached.
        usual: whether sound goes there when nothing else is asked for.
        latency_s: from a sample to the ear as the back end tells it; None where it does not.
    """

    name: str
    backend: str
    usual: bool
    latency_s: float | None
