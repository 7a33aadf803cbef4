"""What is heard at a moment of the CPU's clock, worked out from what a device was handed and when.

Devices are handed one endless row of frames, silence included. A tie relates that row to the time
(frame n is heard at about ``origin + n / RATE``), a new one wherever a device fell behind or
another one took over; marks tie the row to the soundtrack, a new one wherever the soundtrack
pauses, goes on or jumps. Both stay true for the past, so a key pressed just before is put where it
belongs.
"""

from __future__ import annotations

from coach.sound.clip import RATE

_KEPT = 32
_LEAST = 1e-6
_LONGEST_BELIEVED_S = 1.0
# Longer than any device's buffer: one that asks later than this has run dry, whatever it says.
_BEHIND_S = 0.5


def believed_s(earlier: float, later: float, usual_s: float) -> float:
    """How long sound takes through a device, in seconds.

    Args:
        earlier: when a back end asks for frames, or a microphone heard them, on its own clock.
        later: when it says they will be heard, or when it hands them over. Some back ends leave
            these at zero or equal, or count one of them on another clock.
        usual_s: what is taken where the two cannot be believed, counted on the CPU's clock.
    """
    taken_s = later - earlier
    return taken_s if earlier > 0.0 and 0.0 < taken_s <= _LONGEST_BELIEVED_S else usual_s


class Clock:
    """Written by the device's callback, read by everybody else; neither ever waits.

    Attributes:
        frames: how many the devices have been handed so far.
        ticks: how many times they have asked.
    """

    def __init__(self) -> None:
        self.frames = 0
        self.ticks = 0
        self._ties = [_Tie(0)]
        self._marks: list[tuple[float, int, bool]] = [(0.0, 0, False)]

    def mark(self, position: int, playing: bool, ahead: int = 0) -> None:
        """``ahead`` frames on, the soundtrack plays from ``position``, or stands there."""
        self._marks.append((self.frames + ahead, position, playing))

    def tick(self, count: int, heard_at: float) -> None:
        """The device takes ``count`` frames, the first of which it says will be heard then."""
        self._ties[-1].learn(heard_at - self.frames / RATE)
        self.frames += count
        self.ticks += 1

    def begin(self) -> None:
        """Another device takes over, or this one fell behind: what was known of it ends here."""
        self._ties.append(_Tie(self.frames))

    def is_behind(self, heard_at: float) -> bool:
        """Whether a device that will be heard only then must have run dry."""
        origin = self._ties[-1].origin()
        return origin is not None and heard_at - self.frames / RATE - origin > _BEHIND_S

    @property
    def settled(self) -> bool:
        """Whether this device has taken a second of frames; before that some hesitate."""
        return self.frames - self._ties[-1].first >= RATE

    def position_s(self, at: float) -> float:
        """Seconds on the soundtrack heard at perf_counter time ``at``; 0 before the first sound.

        What no device was handed cannot be heard: the position waits for it.
        """
        return self._position(self._frame(at)) / RATE

    def plays(self, at: float) -> bool:
        """Whether the soundtrack went on at perf_counter time ``at``, and did not stand."""
        frame = self._frame(at)
        return next(mark for mark in reversed(self._marks) if mark[0] <= frame)[2]

    def stop(self, at: float) -> int:
        """What is heard at ``at`` is the last that is heard; its place in frames is returned.

        No device may be asking meanwhile.
        """
        frame = self._frame(at)
        here = round(self._position(frame))
        heard = [mark for mark in self._marks if mark[0] <= frame]
        self._marks = [*heard, (frame, here, False)]
        return here

    def move(self, position: int) -> None:
        """After :meth:`stop`, stand at ``position`` instead."""
        self._marks.append((self._marks[-1][0], position, False))

    def _frame(self, at: float) -> float:
        """The frame heard then, 0 before the first one."""
        end: float = self.frames
        for tie in reversed(self._ties):
            origin = tie.origin()
            if origin is not None:
                frame = (at - origin) * RATE
                if frame >= tie.first:
                    return min(frame, end)
            end = tie.first - _LEAST
        return 0.0

    def _position(self, frame: float) -> float:
        start, position, playing = next(m for m in reversed(self._marks) if m[0] <= frame)
        return position + (frame - start if playing else 0)


class _Tie:
    """Frames from ``first`` on that one device takes at its own steady rate."""

    def __init__(self, first: int) -> None:
        self.first = first
        self._origins = [0.0] * _KEPT
        self._known = 0

    def learn(self, origin: float) -> None:
        self._origins[self._known % _KEPT] = origin
        self._known += 1

    def origin(self) -> float | None:
        """When frame 0 would have been heard; None before the first request."""
        known = min(self._known, _KEPT)
        # A callback may be late, which makes its estimate late; it is never early. So the truth
        # lies low among the last ones, and just above the lowest where the device's own figure
        # trembles. (Sorted by Python: numpy would let go of Python's lock, and whoever asks for the
        # position often would win it back from the waiting callback again and again.)
        return sorted(self._origins[:known])[known // 4] if known else None
