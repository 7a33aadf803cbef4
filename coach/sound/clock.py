"""What is heard at a moment of the CPU's clock, worked out from what a device was handed and when.

A device is handed one endless row of frames, silence included. Its clock ties that row to the time
(frame 0 is heard at about ``origin``, frame n at ``origin + n / RATE``); marks tie the row to the
soundtrack, a new one wherever the soundtrack pauses, goes on or jumps. Both stay true for the past,
so a key pressed just before a pause is put where it belongs.
"""

from __future__ import annotations

from coach.sound.clip import RATE

_KEPT = 32


class Clock:
    """Written by the device's callback, read by everybody else; neither ever waits.

    Attributes:
        frames: how many the device has been handed so far.
        ticks: how many times it has asked.
    """

    def __init__(self) -> None:
        self.frames = 0
        self.ticks = 0
        self._origins = [0.0] * _KEPT
        self._known = 0
        self._marks: list[tuple[float, int, bool]] = [(0.0, 0, False)]

    def mark(self, position: int, playing: bool) -> None:
        """From the next frame on, the soundtrack plays from ``position``, or stands there."""
        self._marks.append((self.frames, position, playing))

    def tick(self, count: int, heard_at: float) -> None:
        """The device takes ``count`` frames, the first of which it says will be heard then."""
        self._origins[self._known % _KEPT] = heard_at - self.frames / RATE
        self._known += 1
        self.frames += count
        self.ticks += 1

    def forget(self) -> None:
        """The device fell behind: what it said so far about the time no longer holds."""
        self._known = 0

    def due(self) -> float | None:
        """When the next frame will be heard; None before the first tick."""
        origin = self._origin()
        return None if origin is None else origin + self.frames / RATE

    def position_s(self, at: float) -> float:
        """Seconds on the soundtrack heard at perf_counter time ``at``; 0 before the first sound."""
        origin = self._origin()
        if origin is None:
            return self._marks[-1][1] / RATE
        return self._position((at - origin) * RATE) / RATE

    def stop(self, at: float) -> None:
        """What is heard at ``at`` is the last that is heard."""
        origin = self._origin()
        if origin is not None:
            frame = (at - origin) * RATE
            here = round(self._position(frame))
            marks = [mark for mark in self._marks if mark[0] <= frame] or self._marks[:1]
            self._marks = [*marks, (frame, here, False)]

    def _position(self, frame: float) -> float:
        for start, position, playing in reversed(self._marks):
            if start <= frame:
                return position + (frame - start if playing else 0)
        return self._marks[0][1]

    def _origin(self) -> float | None:
        known = min(self._known, _KEPT)
        # A callback may be late, which makes its estimate late; it is never early. So the truth
        # lies low among the last ones, and just above the lowest where the device's own figure
        # trembles. (Sorted by Python: numpy would let go of Python's lock, and whoever asks for the
        # position often would win it back from the waiting callback again and again.)
        return sorted(self._origins[:known])[known // 4] if known else None
