"""A private sound server whose only output is a null sink, and a recorder of what it was given."""

from __future__ import annotations

import contextlib
import math
import os
import shutil
import subprocess
import tempfile
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

RATE = 48_000
STEADY_S = 0.01
"""So much of a recording may be lost, as far as its arrival tells; it renders in blocks."""

HELD_S = 0.2
"""Nothing may arrive for so long: after more, what plays has had nothing left to play."""

SERVER, COACH, BROWSER = 10, 5, 3
"""Priorities of what is heard: of the server with its recorder, of what plays, of a browser."""

_PROGRAMS = ("pulseaudio", "parec", "pactl")
_SINK = "rehearsal_room"
_FORMAT = (f"rate={RATE}", "channels=2")
_ALSA = """</usr/share/alsa/alsa.conf>
pcm.!default { type pulse }
ctl.!default { type pulse }
"""


def ahead() -> None:
    """Run this process ahead of all others, where that is allowed.

    What plays and records is judged as on a machine that has nothing else to do, while the other
    tests take all processors. Sound servers do the same, and browsers with their sound.
    """
    _favour(0, COACH)


def put_ahead(process: int) -> None:
    """The same for all threads of a process that runs already, and for none that it has begun.

    A recogniser ahead of everything would take all there is, from what others play as well.
    """
    for thread in Path(f"/proc/{process}/task").glob("*"):
        _favour(int(thread.name), COACH)


def _favour(process: int, priority: int) -> None:
    with contextlib.suppress(AttributeError, PermissionError, ProcessLookupError):
        os.sched_setscheduler(process, os.SCHED_RR, os.sched_param(priority))


@dataclass(frozen=True)
class Recording:
    """What came out of the null sink.

    Attributes:
        samples: float32, mono, 48 kHz.
        started_at: the perf_counter time at which the first sample was heard; good to about 10 ms,
            because the server renders in blocks.
        lost_s: how much less was recorded than time went by.
        held_s: how long at most nothing of it arrived, because the server or its recorder stood.
    """

    samples: npt.NDArray[np.float32]
    started_at: float
    lost_s: float
    held_s: float

    def is_steady(self, *, stumbled: bool = False) -> None:
        """Skips where the sound or this recording stumbled: nobody can say what was heard when.

        Args:
            stumbled: whether the coach itself says that its sound was interrupted.
        """
        if stumbled or self.lost_s > STEADY_S or self.held_s > HELD_S:
            pytest.skip(
                "this machine is too busy to play and record sound without a stumble: "
                f"{'it stumbled, ' if stumbled else ''}{1000 * self.lost_s:.0f} ms were lost, "
                f"and for {1000 * self.held_s:.0f} ms nothing came"
            )


@dataclass
class NullSink:
    """A sound server of one's own, whose only output is a null sink.

    Attributes:
        environment: a whole environment for a child process that is to play into it. PortAudio
            reaches it as ALSA's default device, miniaudio through the server itself.
        server: the running server.
        folder: where its socket is.
    """

    environment: dict[str, str]
    server: subprocess.Popen[bytes]
    folder: Path
    _recorder: subprocess.Popen[bytes] | None = None
    _reader: threading.Thread | None = None
    _chunks: list[bytes] = field(default_factory=list)
    _arrivals: list[tuple[int, float]] = field(default_factory=list)
    _taken_at: float = math.inf

    def start_recording(self, name: str = _SINK) -> None:
        """Record from now on; returns once the first samples have arrived."""
        self._chunks, self._arrivals, self._taken_at = [], [], math.inf
        self._recorder = subprocess.Popen(
            [
                "parec", f"--device={name}.monitor", "--format=float32le", "--channels=1",
                f"--rate={RATE}", "--latency-msec=5", "--raw",
            ],
            env=self.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            preexec_fn=lambda: _favour(0, SERVER),
            bufsize=0,
        )  # fmt: skip
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        deadline = time.monotonic() + 60
        while not self._arrivals:
            assert time.monotonic() < deadline, "the recorder heard nothing from the null sink"
            time.sleep(0.01)

    def stop_recording(self) -> Recording:
        """End the recording once all is in it that was heard until now, and hand it over."""
        assert self._recorder is not None and self._reader is not None
        until = min(time.perf_counter(), self._taken_at)
        self._hear_until(until)
        self._recorder.terminate()
        self._recorder.wait(60)
        self._reader.join(60)
        data = b"".join(self._chunks)
        samples = np.frombuffer(data[: len(data) // 4 * 4], dtype="<f4").astype(np.float32)
        # Chunks arrive late, never early: the earliest estimate is the nearest to the truth. The
        # first second is left out, while the recorder's own buffer settles. What was lost makes
        # all that comes after it late.
        arrivals = [a for a in self._arrivals if a[0] > RATE] or self._arrivals
        starts = [when - count / RATE for count, when in arrivals]
        last = [
            start
            for start, (count, _) in zip(starts, arrivals, strict=True)
            if count > arrivals[-1][0] - 2 * RATE
        ]
        came = [when for _, when in self._arrivals]
        held_s = np.diff([*came, max(until, came[-1])]).max()
        return Recording(samples, min(starts), min(last) - min(starts), float(held_s))

    def take_away(self) -> None:
        """Unload the null sink: what is playing loses its device, and there is no other."""
        self._taken_at = time.perf_counter()
        self._pactl("unload-module", "module-null-sink")

    def give(self, name: str = _SINK, title: str = "") -> None:
        """Load a null sink, which programs see by its title if it has one."""
        about = [f"sink_properties=device.description={title}"] if title else []
        self._pactl("load-module", "module-null-sink", f"sink_name={name}", *_FORMAT, *about)

    def start_server(self) -> None:
        """Start the server anew after :meth:`close`."""
        self.server = _serve(self.folder, self.environment)

    def close(self) -> None:
        """End the server, and the recorder if it runs: what is playing loses its device.

        In this order, or the server would go on playing what nobody records. The recorder hands
        over what it was given, and ends by itself.
        """
        self._taken_at = time.perf_counter()
        if self.server.poll() is None:
            self.server.kill()
            self.server.wait(60)
        if self._recorder is not None:
            try:
                self._recorder.wait(5)
            except subprocess.TimeoutExpired:
                self._recorder.kill()
                self._recorder.wait(60)

    def _hear_until(self, until: float) -> None:
        """Wait for what was heard by then, where it is still on its way from the recorder."""
        assert self._recorder is not None
        deadline = time.monotonic() + 60
        start = min(when - count / RATE for count, when in self._arrivals)
        while self._recorder.poll() is None and time.monotonic() < deadline:
            count, when = self._arrivals[-1]
            start = min(start, when - count / RATE)
            if start + count / RATE >= until:
                return
            time.sleep(0.005)

    def _pactl(self, *words: str) -> None:
        subprocess.run(["pactl", *words], env=self.environment, check=True, capture_output=True)

    def _read(self) -> None:
        assert self._recorder is not None and self._recorder.stdout is not None
        _favour(0, SERVER)  # this thread alone, that is
        count = 0
        while chunk := self._recorder.stdout.read(65_536):
            count += len(chunk)
            self._chunks.append(chunk)
            self._arrivals.append((count // 4, time.perf_counter()))


def missing() -> str | None:
    """What has to be installed first, or None."""
    absent = [name for name in _PROGRAMS if shutil.which(name) is None]
    if not any(Path("/usr/lib").glob("**/alsa-lib/libasound_module_pcm_pulse.so")):
        absent.append("ALSA's pulse plugin")
    return f"not installed here: {', '.join(absent)}" if absent else None


@contextlib.contextmanager
def private_server() -> Iterator[NullSink]:
    """Run the server for a while. Works as root, beside another server, and without one."""
    # A short folder name: the path of a Unix socket has to fit into 107 bytes.
    with tempfile.TemporaryDirectory(prefix="sink") as name:
        folder = Path(name)
        (folder / "alsa.conf").write_text(_ALSA)
        environment = dict(os.environ)
        environment.pop("COACH_OUTPUT", None)
        environment.update(
            XDG_RUNTIME_DIR=name,
            PULSE_RUNTIME_PATH=name,
            PULSE_STATE_PATH=name,
            PULSE_SERVER=f"unix:{folder / 'socket'}",
            ALSA_CONFIG_PATH=str(folder / "alsa.conf"),
        )
        sink = NullSink(environment, _serve(folder, environment), folder)
        try:
            yield sink
        finally:
            sink.close()


def _serve(folder: Path, environment: dict[str, str]) -> subprocess.Popen[bytes]:
    """A running server that answers."""
    socket = folder / "socket"
    socket.unlink(missing_ok=True)
    server = subprocess.Popen(
        [
            "pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no",
            "--disable-shm=yes", "--log-target=stderr",
            "-L", f"module-native-protocol-unix socket={socket} auth-anonymous=1",
            "-L", " ".join(["module-null-sink", f"sink_name={_SINK}", *_FORMAT]),
        ],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )  # fmt: skip
    deadline = time.monotonic() + 60
    while subprocess.run(["pactl", "info"], env=environment, capture_output=True).returncode:
        if server.poll() is not None or time.monotonic() > deadline:
            server.kill()
            raise AssertionError("the private sound server does not answer")
        time.sleep(0.05)
    _favour(server.pid, SERVER)
    return server
