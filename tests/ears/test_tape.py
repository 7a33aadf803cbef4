"""What was heard is kept for this machine's user, and whole or not at all."""

from __future__ import annotations

import json
import stat
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from coach.ears.segments import RATE
from coach.ears.tape import Tape
from coach.problems import Problem

TONE = np.sin(2 * np.pi * 440 * np.arange(RATE) / RATE).astype(np.float32)

FULL = """
import json, resource, sys
from pathlib import Path
import numpy as np
from coach.ears.tape import Tape
path, room, count, size = Path(sys.argv[1]), *map(int, sys.argv[2:])
tape = Tape(path)
tape.add(np.zeros(10, np.float32))
resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
for _ in range(count):
    tape.add(np.zeros(size, np.float32))
early = tape.told, [one.stat().st_size for one in path.parent.iterdir()]
tape.close()
print(json.dumps([*early, tape.told]))
"""
"""A disk with so many bytes of room for a file, and so many blocks of so many samples."""


def test_what_was_heard_is_a_wav_file_once_it_is_over(tmp_path: Path) -> None:
    path = tmp_path / "kept.wav"
    tape = Tape(path)
    for part in np.split(TONE, 10):
        tape.add(part)
        assert not path.exists() and tape.told == ""
    tape.close()
    assert tape.told == f"Wrote {path}."
    found, rate = soundfile.read(path, dtype="float32")
    assert rate == RATE and np.abs(found - TONE).max() < 1e-4
    assert [one.name for one in tmp_path.iterdir()] == ["kept.wav"]
    tape.add(TONE)
    tape.close()
    assert tape.told == f"Wrote {path}." and soundfile.info(path).frames == RATE


@pytest.mark.skipif(sys.platform == "win32", reason="Folders of a user are closed to others there.")
def test_nobody_else_on_this_machine_may_listen_neither_while_nor_after(tmp_path: Path) -> None:
    tape = Tape(tmp_path / "kept.wav")
    tape.add(TONE)
    (part,) = tmp_path.iterdir()
    assert stat.S_IMODE(part.stat().st_mode) == 0o600
    tape.close()
    assert stat.S_IMODE((tmp_path / "kept.wav").stat().st_mode) == 0o600


def test_what_loud_noise_leaves_the_range_is_cut_off_there(tmp_path: Path) -> None:
    tape = Tape(tmp_path / "kept.wav")
    tape.add(np.array([3.0, -3.0], np.float32))
    tape.close()
    assert soundfile.read(tmp_path / "kept.wav")[0] == pytest.approx([1.0, -1.0], abs=1e-4)


@pytest.mark.skipif(sys.platform == "win32", reason="No such limit there.")
@pytest.mark.parametrize(
    ("room", "count", "size"),
    [(40_000, 100, 1600), (100, 1, 100), (30, 0, 0)],
    ids=["while", "at the end", "at the very end"],
)
def test_a_disk_that_is_full_is_told_in_a_sentence_and_no_half_file_is_left(
    tmp_path: Path, room: int, count: int, size: int
) -> None:
    path = tmp_path / "kept.wav"
    words = [sys.executable, "-c", FULL, str(path), *map(str, (room, count, size))]
    done = subprocess.run(words, capture_output=True, text=True, check=True, timeout=60)
    assert done.stderr == ""
    early, left, told = json.loads(done.stdout)
    assert told == f"{path}: cannot be written: File too large."
    assert list(tmp_path.iterdir()) == []
    if count > 1:  # told at once, and what the disk has room for is the run's again
        assert (early, left) == (told, [])


def test_where_nothing_came_in_there_is_no_file_and_it_is_said(tmp_path: Path) -> None:
    tape = Tape(tmp_path / "kept.wav")
    tape.close()
    assert tape.told.endswith("kept.wav: not written, as nothing came in.")
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_cannot_be_written_is_told_before_anything_is_heard(tmp_path: Path) -> None:
    with pytest.raises(Problem, match=r"kept\.wav: cannot be written"):
        Tape(tmp_path / "nowhere" / "kept.wav")
