"""Plays one soundtrack on one device, and knows at any moment what is being heard."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from coach.sound.aside import Aside
from coach.sound.backends import Device, Fill, silent
from coach.sound.clip import RATE, Clip
from coach.sound.clock import Clock
from coach.sound.feed import Feed, Source
from coach.sound.soundtrack import Sound
from coach.sound.timekeeper import MACHINE, Ends, Timekeeper

GO_BACK_S = 0.5
"""How much is heard again after the sound was lost, so that no word is cut in two."""

_POLL_S = 0.05
_SEARCH_S = 1.0
_LEAVE_S = 5.0
# 3 s, since some devices hesitate at first; in polls, because a program that was halted by the
# student has not lost its device.
_PATIENCE_POLLS = 60
_GONE = "The sound device is gone: paused; connect it or another one, or go on without sound."
_SILENT = "Going on without sound: captions only until a sound device is back."

Find = Callable[[Fill, float], "Device | None"]
"""Opens the device to go on with, given for how many seconds it has been missed; None: none yet."""


class Player:
    """One soundtrack on its way to the ear.

    A device that disappears pauses the run where it was last heard. It is looked for about once a
    second, and when a device is back the run goes on from :data:`GO_BACK_S` before that place. Who
    resumes meanwhile goes on without sound from the very place, and a device that comes back then
    takes over without going back.

    Attributes:
        note: one sentence the student should read, or None.
        lost: the device is gone, and no other has taken its place.
        underruns: how often frames were not there in time.
        timekeeper: whose time this is played in.
    """

    def __init__(
        self,
        soundtrack: Source,
        find: Find,
        note: str | None = None,
        timekeeper: Timekeeper = MACHINE,
    ) -> None:
        self.note = note
        self.lost = False
        self.underruns = 0
        self.timekeeper = timekeeper
        self.clock = Clock()
        self._feed = Feed(soundtrack, timekeeper)
        self._find = find
        self._device: Device | None = None
        self._name = ""
        # The callback's own: it takes requests, and nobody else touches the rest.
        self._requests: deque[tuple[bool, int | None]] = deque()
        self._next = 0
        self._playing = False
        self._dry = False
        self._aside = Aside()
        self._asked_at = self.timekeeper.now()
        # Between the student's thread and the one that watches the device.
        self._lock = threading.Lock()
        self._wanted = False
        self._here = 0
        self._over = False
        # The watcher's own.
        self._seen, self._polls = 0, 0
        self._missed_at = self._searched_at = 0.0
        self._end_watch: Ends | None = None

    def attach(self, device: Device) -> None:
        """Use this device from now on."""
        self._device = device
        self._name = device.name

    def extend(self, soundtrack: Source) -> None:
        """Go on with more of the same: what was played so far is how this begins."""
        self._feed.extend(soundtrack)

    def start(self) -> None:
        """Play from the beginning; where that is all that is known, stand at its end."""
        assert self._device is not None
        self._wanted = True
        self._requests.append((True, 0))
        self._feed.start()
        self._device.start()
        self._end_watch = self.timekeeper.again_and_again(self._watch)

    def pause(self) -> None:
        """Fall silent; what is already on its way to the ear is still heard."""
        with self._lock:
            self._wanted = False
            self._requests.append((False, None))

    def resume(self) -> None:
        """Go on where the run stands; without sound, if its device is gone."""
        with self._lock:
            self._wanted = True
            if self._missing:
                self.note = _SILENT
                self._take_over(silent.open_device(self.fill, self.timekeeper), self._here)
            else:
                self._requests.append((True, None))

    def restart(self) -> None:
        """Play from the beginning again, as soon as there is a device."""
        with self._lock:
            self._wanted = True
            if self._missing:
                self._here = 0
                self.clock.move(0)
            else:
                self._requests.append((True, 0))

    def interject(self, clip: Clip, instead_of: Sound | None = None) -> None:
        """Have something said beside the soundtrack, at once; its clock does not notice.

        Args:
            clip: what is said.
            instead_of: a sound of the soundtrack that is then not heard. Where it is on its way to
                the ear already, it is heard, and the clip is not said.
        """
        self._aside.ask(clip, instead_of)

    def stop(self) -> None:
        """Fall silent for good and let the device go; the position stays where it is."""
        with self._lock:
            at = self.timekeeper.now()
            self._over = True
            if self._device is not None:
                self._device.close()
                self._device = None
                self.clock.stop(at)
        if self._end_watch is not None:
            self._end_watch(_LEAVE_S)
        self._feed.close()

    def position_s(self, at: float | None = None) -> float:
        """Seconds on the soundtrack that are being heard, the device's delay taken off.

        Args:
            at: a ``self.timekeeper.now()`` time, now or a little in the past; None is now.
        """
        if self._feed.failure is not None:
            raise self._feed.failure
        heard_s = self.clock.position_s(self.timekeeper.now() if at is None else at)
        return min(heard_s, self._known_s)

    @property
    def _known_s(self) -> float:
        return self._feed.source.length / RATE

    @property
    def device(self) -> str:
        """The name of the device in use, or of the one that is gone."""
        return self._name

    @property
    def paused(self) -> bool:
        """Whether the run stands: the student paused it, or its device is gone."""
        return not self._wanted or self._missing

    @property
    def finished(self) -> bool:
        """Whether the last sample has been heard."""
        return self._feed.source.whole and self._at_end

    @property
    def waiting(self) -> bool:
        """Whether it stands where nothing more is known yet; it goes on with :meth:`extend`."""
        return not self._feed.source.whole and self._at_end

    @property
    def _at_end(self) -> bool:
        return self.position_s() >= self._known_s

    def fill(
        self, out: npt.NDArray[np.float32], delay_s: float, *, fell_behind: bool = False
    ) -> None:
        """Hand the device its next frames; see :class:`coach.sound.backends.Fill`.

        Runs on the device's own thread: it copies, and neither waits nor asks for memory. Frames
        that are not ready are silent, and the position stands for as long.
        """
        self._asked_at = self.timekeeper.now()
        heard_at = self._asked_at + delay_s
        if fell_behind or self.clock.is_behind(heard_at):
            self.underruns += self._playing and (fell_behind or self.clock.settled)
            self.clock.begin()
        while self._requests:
            self._playing, jump = self._requests.popleft()
            if jump is not None:
                self._next = jump
                self._aside.forget()
            self._dry = False
            self.clock.mark(self._next, self._playing)
        self._aside.begin(self._next)
        if self._playing:
            self._play(out)
        else:
            out[:] = 0.0
        self._aside.speak(out)
        self.clock.tick(len(out), heard_at)

    def _play(self, out: npt.NDArray[np.float32]) -> None:
        known = self._feed.source.length
        ready = self._feed.take(self._next, out)
        self._aside.leave_out(self._next, out[:ready])
        if self._dry and ready:
            self._dry = False
            self.clock.mark(self._next, True)
        self._next += ready
        if ready < len(out) and not self._dry:
            self._dry = True
            self.underruns += self._next < known
            self.clock.mark(self._next, False, ahead=ready)

    @property
    def _missing(self) -> bool:
        return self.lost and self._device is None

    @property
    def _alive(self) -> bool:
        device = self._device
        return device is not None and device.alive

    def _watch(self) -> float:
        """Notice that the device is gone, and look for one to go on with."""
        now = self.timekeeper.now()
        if self.lost:
            if now - self._searched_at >= _SEARCH_S:
                device = self._find(self.fill, now - self._missed_at)
                if device is not None:
                    self._come_back(device)
                self._seen, self._polls = self.clock.ticks, 0
                self._searched_at = self.timekeeper.now()
        elif self.clock.ticks != self._seen:
            self._seen, self._polls = self.clock.ticks, 0
        elif not self._alive or self._polls >= _PATIENCE_POLLS:
            self._lose()
            self._missed_at, self._searched_at = now, 0.0
        self._polls += 1
        return _POLL_S

    def _lose(self) -> None:
        with self._lock:
            if self._device is None:
                return
            self._device.close()
            self._device = None
            # It may have died any time after it asked last; what is heard twice is not lost.
            self._here = self.clock.stop(self._asked_at)
            self.lost = True
            self.note = _GONE

    def _come_back(self, device: Device) -> None:
        with self._lock:
            if self._over:
                device.close()
                return
            if self._device is None:
                here = max(0, self._here - round(GO_BACK_S * RATE))
            else:
                at = self.timekeeper.now()
                self._device.close()
                here = self.clock.stop(at)
            self.lost = False
            back = f"Sound is back on {device.name}"
            if device.name != self._name:
                back = f"{self._name} stayed away; sound is on {device.name} now"
            self.note = f"{back}{': going on' if self._wanted else ''}."
            self._name = device.name
            self._take_over(device, here)

    def _take_over(self, device: Device, here: int) -> None:
        self.clock.begin()
        self._requests.clear()
        self._requests.append((self._wanted, here))
        self._device = device
        device.start()

    def __enter__(self) -> Player:
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()
