"""What every test may use."""

from __future__ import annotations

import os
import shutil
import signal
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings
from hypothesis.internal.conjecture import providers
from hypothesis.internal.constants_ast import Constants

from coach.ears import ears
from coach.sound import voices, worker
from tests.sound.null_sink import NullSink, missing, private_server

# A property holds on a busy machine too, where any example may take its time. Its examples are the
# same ones in every run, so that a change is judged by itself and not by its luck; with
# --hypothesis-profile=anew others are drawn.
settings.register_profile("same", deadline=None, derandomize=True)
settings.register_profile("anew", deadline=None)
settings.load_profile("same")

# Hypothesis also draws the numbers and words that stand in the code that is loaded, and which code
# that is depends on what the same process has tested before: then they would not be the same ones.
if hasattr(providers, "_get_local_constants"):
    setattr(providers, "_get_local_constants", Constants)  # noqa: B010

# What is printed is as wide as this, whatever terminal the tests are run in.
os.environ.update(COLUMNS="80", LINES="24")

# Every tap is written through to the disk: files lie in memory, where the system has such a place.
# What tests that fail leave there is kept for a look, as many sessions long as pytest does.
_MEMORY, _ROOM = Path("/dev/shm"), 2 << 30
if (
    "TMPDIR" not in os.environ
    and os.access(_MEMORY, os.W_OK | os.X_OK)
    and shutil.disk_usage(_MEMORY).free > _ROOM
):
    os.environ["TMPDIR"] = tempfile.tempdir = str(_MEMORY)

# Whatever signals these tests were told to ignore (nohup), what they start is told of its own: an
# ignored signal is ignored by every program that is started, a handled one is not.
for _name in ("SIGHUP", "SIGINT", "SIGQUIT", "SIGTERM", "SIGTSTP"):
    _number = getattr(signal, _name, None)
    if _number is not None and signal.getsignal(_number) is signal.SIG_IGN:
        signal.signal(_number, lambda *_: None)

# Nor does a voice or a recogniser that starts slowly on a busy machine hang; the tests of those
# that do say when.
voices.LISTING_LIMIT_S = worker.PATIENCE_S = ears.READY_S = 60.0
voices.LIMIT_S = 200.0


ON_TIME = {
    "bench/test_browsers": "heard",
    "rehearsal/test_calibration": "heard",
    "rehearsal/test_run": "heard",
    "sound/test_null_sink": "heard",
    "ears/test_microphone": "pressed",
    "page/test_browser_room": "pressed",
    "page/test_heard": "pressed",
    "rehearsal/test_listening": "pressed",
    "terminal/test_keys": "pressed",
}
"""What plays, records or presses keys in real time: the files of a group one after the other. Each of
the two groups waits most of the time, so that they are little in each other's way."""

_LONG = (
    "page/test_browser",
    "page/test_browser_hand",
    "page/test_browser_hands",
    "sound/test_voices",
    "ears/test_listening",
)
"""Files that wait for much: begun late, they would be waited for at the end."""

_LARGE = ("flight/test_every_script", "commands/test_command")


def _file(nodeid: str) -> str:
    return nodeid.partition("::")[0].removeprefix("tests/").removesuffix(".py")


def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Deal out the tests by what is run one after the other, in the same process.

    That is a group of what must be on time, or any other file, for what is made for its tests
    together; the tests of a large one are dealt out one by one.
    """
    from xdist.scheduler import LoadScopeScheduling

    class Scheduling(LoadScopeScheduling):  # type: ignore[misc]
        def _split_scope(self, nodeid: str) -> str:
            file = _file(nodeid)
            return nodeid if file in _LARGE else ON_TIME.get(file, file)

    return Scheduling(config, log)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with what takes longest; all else may be reversed."""
    if "COACH_TESTS_REVERSED" in os.environ:
        items.reverse()
    first = (*ON_TIME, *_LONG, *_LARGE)
    files = {item: _file(item.nodeid) for item in items}
    items.sort(key=lambda item: first.index(files[item]) if files[item] in first else len(first))


@pytest.fixture(scope="session")
def phrases(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What was spoken once in this session, by whichever of its processes, need not be again.

    The coach writes each of these files at once, under a name made of all that it depends on.
    """
    session = tmp_path_factory.getbasetemp()
    folder = (session.parent if "PYTEST_XDIST_WORKER" in os.environ else session) / "spoken"
    folder.mkdir(exist_ok=True)
    return folder


@pytest.fixture(scope="session")
def new_home(tmp_path_factory: pytest.TempPathFactory, phrases: Path) -> Callable[[], Path]:
    """Makes folders for students whose coach has spoken before."""

    def moved_in() -> Path:
        home = tmp_path_factory.mktemp("home")
        (home / "cache").symlink_to(phrases)
        return home

    return moved_in


@pytest.fixture(scope="session", autouse=True)
def _nobodys(new_home: Callable[[], Path]) -> None:
    """What is made for several tests does not look into the student's own folder either."""
    os.environ["COACH_HOME"] = str(new_home())


@pytest.fixture(autouse=True)
def home(new_home: Callable[[], Path], monkeypatch: pytest.MonkeyPatch) -> Path:
    """The student's own folder, new for each test."""
    folder = new_home()
    monkeypatch.setenv("COACH_HOME", str(folder))
    return folder


@pytest.fixture
def null_sink(request: pytest.FixtureRequest) -> Iterator[NullSink]:
    """A private sound server with a null sink; skips where none can be had, fails so under CI."""
    assert _file(request.node.nodeid) in ON_TIME, "name this file in ON_TIME"
    if absent := missing():
        (pytest.fail if os.environ.get("CI") else pytest.skip)(absent)
    with private_server() as sink:
        yield sink
