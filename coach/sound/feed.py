"""Renders a soundtrack a few seconds ahead, so that a device never waits for it."""

from __future__ import annotations

from typing import Protocol

import numpy as np
import numpy.typing as npt

from coach.sound.clip import RATE
from coach.sound.timekeeper import MACHINE, Ends, Timekeeper

Frames = npt.NDArray[np.float32]

_BLOCK = RATE // 10
_HEAD = RATE
_RING = 6 * RATE
_KEPT_BEHIND = 2 * RATE
_REST_S = 0.05


class Source(Protocol):
    """What can be played: :class:`coach.sound.soundtrack.Soundtrack`, or anything alike."""

    @property
    def length(self) -> int:
        """How many frames there are."""

    @property
    def whole(self) -> bool:
        """Whether that is all of it: else more is coming, see :meth:`Feed.extend`."""

    def frames(self, start: int, count: int) -> Frames:
        """Frames by two channels, from any place."""


class Feed:
    """The frames of a source, ready before they are asked for.

    They are rendered into a ring beside everything else; :meth:`take` copies from it and waits for
    nothing. The first second is kept for good, and two seconds behind what was last taken, so that
    starting over and going back a little are answered at once.

    Attributes:
        failure: what the source raised; nothing more is rendered after it.
    """

    def __init__(self, source: Source, timekeeper: Timekeeper = MACHINE) -> None:
        self.failure: Exception | None = None
        self._source = source
        self._head = source.frames(0, min(_HEAD, source.length))
        self._ring = np.zeros((_RING, 2), dtype=np.float32)
        # The ring holds the frames from the first of these numbers up to the second, each at its
        # number modulo the ring's size. Only what renders writes this, as a whole.
        self._ready = (_HEAD, _HEAD)
        self._wanted = 0
        self._timekeeper = timekeeper
        self._end: Ends | None = None

    @property
    def source(self) -> Source:
        """What is played, as far as it is known."""
        return self._source

    def extend(self, source: Source) -> None:
        """Go on with a source that begins as the one before does, frame by frame."""
        self._head = source.frames(0, min(_HEAD, source.length))
        self._source = source

    def start(self) -> None:
        """Begin to render ahead."""
        self._end = self._timekeeper.again_and_again(self._render_ahead)

    def close(self) -> None:
        """Render no more."""
        if self._end is not None:
            self._end(None)

    def take(self, start: int, out: Frames) -> int:
        """Copy frames into ``out``, mixed down where it has one channel.

        Args:
            start: the first frame; those beyond a whole source's end are silent.
            out: frames by one or two channels, overwritten.

        Returns:
            How many of them are right; those after them are not ready yet, and silent.
        """
        self._wanted = start
        source = self._source
        done, count = 0, len(out)
        while done < count:
            piece = self._piece(start + done, count - done)
            if not len(piece):
                break
            part = out[done : done + len(piece)]
            if out.shape[1] == 1:
                np.add(piece[:, 0], piece[:, 1], out=part[:, 0])
                part *= 0.5
            else:
                part[:] = piece
            done += len(piece)
        out[done:] = 0.0
        return count if source.whole and start + done >= source.length else done

    def _piece(self, at: int, most: int) -> Frames:
        if at < len(self._head):
            return self._head[at : at + most]
        low, high = self._ready
        place = at % _RING
        count = min(most, high - at, _RING - place) if low <= at else 0
        return self._ring[place : place + max(0, count)]

    def _render_ahead(self) -> float | None:
        try:
            return 0.0 if self._render() else _REST_S
        except Exception as error:
            self.failure = error
            return None

    def _render(self) -> bool:
        """Render one more block, if there is room for it."""
        source = self._source
        wanted = max(self._wanted, _HEAD)
        if wanted >= source.length:
            return False
        low, high = self._ready
        if not low <= wanted <= high:
            low = high = wanted - wanted % _BLOCK
        if high >= source.length or high + _BLOCK - _RING > wanted - _KEPT_BEHIND:
            return False
        # Frames are given up before others are written over them.
        low = max(low, high + _BLOCK - _RING)
        self._ready = (low, high)
        # Where the source ended before more of it came, in the middle of a block.
        count = min(_BLOCK - high % _BLOCK, source.length - high)
        place = high % _RING
        self._ring[place : place + count] = source.frames(high, count)
        self._ready = (low, high + count)
        return True
