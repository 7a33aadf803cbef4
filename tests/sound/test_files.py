"""Promises of soundtracks in files."""

from __future__ import annotations

import os
import subprocess
import sys
import tracemalloc
from pathlib import Path
from unittest.mock import patch

import av
import miniaudio  # type: ignore[import-untyped]
import mutagen
import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import correlate

from coach.callouts.cuesheet import Cue
from coach.problems import Problem
from coach.sound import files
from coach.sound.clip import RATE, Samples
from coach.sound.files import Chapter
from coach.sound.soundtrack import Soundtrack, mix
from coach.sound.tones import tone
from tests.sound.sheets import SILENT, course, sheet_of

ENDINGS = tuple(files.FORMS)
EXACT = (".wav", ".flac")
MARKS_S = (0.0, 0.7654, 2.5, 3.87)
CHAPTERS = (Chapter(0.0, "Introduction"), Chapter(0.7654, "Loop 1, to the right"),
            Chapter(2.5, "Schleife 2 – nach links"))  # fmt: skip


@pytest.fixture(scope="module")
def track() -> Soundtrack:
    """Four seconds and a bit: the airplane, which leans to one ear, and a tone at each mark."""
    marks = (Cue(mark, 0.12, tone="checkpoint") for mark in MARKS_S)
    flown = course((0.5, 4.0), rudder=(0.5, 1.0))
    return mix(sheet_of(*marks, length_s=4.01234, flown=flown), {})


def read(path: Path) -> Samples:
    samples, rate = soundfile.read(path, dtype="float32", always_2d=True)
    assert rate == RATE
    return np.asarray(samples)


def late(heard: Samples, mark_s: float) -> int:
    """How many frames after its place a checkpoint's tone lies, by matched filter."""
    shape, at = tone("checkpoint").samples, round(mark_s * RATE)
    before = min(at, RATE // 10)
    near = heard[at - before : at + RATE // 10 + len(shape), 0]
    return int(correlate(near, shape, "valid").argmax()) - before


@pytest.mark.parametrize("ending", ENDINGS)
def test_every_form_has_the_same_length_and_every_sound_where_it_was(
    ending: str, track: Soundtrack, tmp_path: Path
) -> None:
    path = tmp_path / f"track{ending}"
    files.write(track, path, title="Lazy eight", chapters=CHAPTERS)
    heard, meant = read(path), track.frames(0, track.length)
    assert heard.shape == meant.shape
    assert [late(heard, mark) for mark in MARKS_S] == [0, 0, 0, 0]
    if ending in EXACT:
        assert np.abs(heard - meant).max() <= 1.0 / 32_768.0
    else:
        for ear in (0, 1):
            assert np.corrcoef(heard[:, ear], meant[:, ear])[0, 1] > 0.99


@pytest.mark.parametrize("ending", [".wav", ".flac", ".mp3"])
def test_another_decoder_finds_every_sound_in_the_same_place(
    ending: str, track: Soundtrack, tmp_path: Path
) -> None:
    path = tmp_path / f"track{ending}"
    files.write(track, path, title="Lazy eight", chapters=CHAPTERS)
    decoded = miniaudio.decode_file(
        str(path), output_format=miniaudio.SampleFormat.FLOAT32, nchannels=2, sample_rate=RATE
    )
    heard = np.frombuffer(decoded.samples, dtype=np.float32).reshape(-1, 2)
    assert len(heard) == track.length
    assert [late(heard, mark) for mark in MARKS_S] == [0, 0, 0, 0]


@pytest.mark.parametrize("ending", ENDINGS)
def test_title_chapters_and_fingerprint_come_back(
    ending: str, track: Soundtrack, tmp_path: Path
) -> None:
    path = tmp_path / f"track{ending}"
    files.write(
        track, path, title="Lazy eight", chapters=CHAPTERS, comment="On the ground.",
        fingerprint="0123abc",
    )  # fmt: skip
    assert files.fingerprint(path) == "0123abc"
    tags = mutagen.File(path).tags
    if ending in (".wav", ".mp3"):
        assert tags["TIT2"].text == ["Lazy eight"]
        assert tags.getall("COMM")[0].text == ["On the ground."]
        (contents,) = tags.getall("CTOC")
        listed = [tags[f"CHAP:{name}"] for name in contents.child_element_ids]
        found = [(one.start_time, one.end_time, str(one.sub_frames["TIT2"])) for one in listed]
        ends = [765, 2500, 4012]
        assert found == [
            (start, end, chapter.title)
            for start, end, chapter in zip([0, 765, 2500], ends, CHAPTERS, strict=True)
        ]
    else:
        assert tags["title"] == ["Lazy eight"]
        assert tags["description"] == ["On the ground."]
        times = ("00:00:00.000", "00:00:00.765", "00:00:02.500")
        for index, (time, chapter) in enumerate(zip(times, CHAPTERS, strict=True)):
            assert tags[f"chapter00{index}"] == [time]
            assert tags[f"chapter00{index}name"] == [chapter.title]


BY_LENGTH = (Chapter(0.0, "Introduction, which is long"), Chapter(0.7654, "Loop 1, to the right"),
             Chapter(2.5, "Loop 2"), Chapter(3.5, "°"))  # fmt: skip


@pytest.mark.parametrize("ending", ENDINGS)
def test_another_reader_finds_the_chapters_in_order(
    ending: str, track: Soundtrack, tmp_path: Path
) -> None:
    """FFmpeg's libraries, which most players use: what each chapter is called, and its times."""
    path = tmp_path / f"track{ending}"
    files.write(track, path, title="Lazy eight", chapters=BY_LENGTH, fingerprint="0" * 64)
    with av.open(str(path)) as file:
        told = file.chapters()
    assert [one["metadata"]["title"] for one in told] == [one.title for one in BY_LENGTH]
    for one, chapter in zip(told, BY_LENGTH, strict=True):
        assert one["time_base"] is not None
        assert float(one["start"] * one["time_base"]) == pytest.approx(chapter.start_s, abs=1e-3)


@pytest.mark.parametrize("ending", [".mp3", ".wav"])
def test_whoever_reads_frame_by_frame_meets_the_contents_and_then_each_chapter_in_its_turn(
    ending: str, track: Soundtrack, tmp_path: Path
) -> None:
    """Byte by byte: "ID3 tag version 2.4.0, Main Structure" and "ID3v2 Chapter Frame Addendum"."""
    path = tmp_path / f"track{ending}"
    files.write(track, path, title="Lazy eight", comment="x" * 200, chapters=BY_LENGTH)
    content = path.read_bytes()
    start = content.index(b"ID3\x04\0\0")
    assert ending == ".wav" or start == 0
    frames, at = [], start + 10
    while content[at : at + 4].strip(b"\0"):
        size = sum(content[at + 7 - place] << 7 * place for place in range(4))
        frames.append((content[at : at + 4], content[at + 10 : at + 10 + size]))
        at += 10 + size
    names = [name for name, _ in frames]
    first = names.index(b"CTOC")
    assert sorted(names[:first]) == [b"COMM", b"TIT2"]
    assert names[first:] == [b"CTOC", *[b"CHAP"] * len(BY_LENGTH)]
    chapters = [content for name, content in frames if name == b"CHAP"]
    ids = [content.partition(b"\0")[0] for content in chapters]
    times = [content.partition(b"\0")[2][:4] for content in chapters]
    assert [int.from_bytes(time, "big") for time in times] == [0, 765, 2500, 3500]
    # Top level and ordered, so many entries, and each by its name.
    assert frames[first][1] == b"contents\0\x03\x04" + b"".join(one + b"\0" for one in ids)


def test_a_chapter_of_a_long_soundtrack_has_hours_minutes_and_seconds(
    track: Soundtrack, tmp_path: Path
) -> None:
    path = tmp_path / "track.flac"
    files.write(track, path, chapters=[Chapter(3_723.0045, "Late")])
    assert mutagen.File(path)["chapter000"] == ["01:02:03.004"]


@pytest.mark.parametrize("ending", ENDINGS)
def test_without_title_and_chapters_there_are_no_tags(
    ending: str, track: Soundtrack, tmp_path: Path
) -> None:
    path = tmp_path / f"track{ending}"
    files.write(track, path)
    assert files.fingerprint(path) == ""
    assert not [name for name in mutagen.File(path).tags or () if "TSSE" not in name]
    assert soundfile.info(path).frames == track.length


def test_a_file_that_is_none_has_no_fingerprint(tmp_path: Path) -> None:
    for ending in ENDINGS:
        path = tmp_path / f"track{ending}"
        assert files.fingerprint(path) == ""
        path.write_bytes(b"no sound at all")
        assert files.fingerprint(path) == ""


def test_a_damaged_file_has_no_fingerprint(track: Soundtrack, tmp_path: Path) -> None:
    path = tmp_path / "track.opus"
    files.write(track, path, fingerprint="0123abc")
    whole = bytearray(path.read_bytes())
    whole[27] = 8  # the length of the first packet, the header
    path.write_bytes(whole)
    assert files.fingerprint(path) == ""


@settings(deadline=None, max_examples=8)
@given(block=st.integers(2_000, 300_000), ending=st.sampled_from(ENDINGS))
def test_however_it_is_cut_up_the_file_holds_the_same(
    block: int, ending: str, track: Soundtrack, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.mktemp("cut") / f"track{ending}"
    with patch.object(files, "BLOCK", track.length):
        files.write(track, path)
    whole = read(path)
    with patch.object(files, "BLOCK", block):
        files.write(track, path)
    np.testing.assert_array_equal(read(path), whole)


def test_a_long_soundtrack_never_lies_in_memory(tmp_path: Path) -> None:
    track = mix(sheet_of(length_s=2_400.0), {}, SILENT)
    tracemalloc.start()
    files.write(track, tmp_path / "track.flac")
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert soundfile.info(tmp_path / "track.flac").duration == 2_400.0
    assert most < 10e6  # the whole would be 922 MB


def test_an_unknown_form_and_a_missing_folder_are_one_sentence(
    track: Soundtrack, tmp_path: Path
) -> None:
    with pytest.raises(Problem, match=r"must end in \.wav or \.flac or \.opus"):
        files.write(track, tmp_path / "track.aac")
    for ending in ENDINGS:
        with pytest.raises(Problem, match="cannot be written: No such file or directory"):
            files.write(track, tmp_path / "nowhere" / f"track{ending}")


_ON_A_SMALL_DISK = """
import resource, sys
from pathlib import Path
from coach.problems import Problem
from coach.sound import files
from coach.sound.soundtrack import mix
from tests.sound.sheets import sheet_of

folder = Path(sys.argv[1])
for ending, sizes in {endings}.items():
    for size in sizes:
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))
        try:
            files.write(mix(sheet_of(length_s=4.0), {{}}), folder / f"track{{ending}}", title="x" * 99_999)
        except Problem as problem:
            print(ending, str(problem).rpartition(": ")[2])
"""


@pytest.mark.skipif(sys.platform == "win32", reason="needs a limit on the size of files")
def test_a_disk_that_fills_up_anywhere_is_told_in_one_sentence_and_leaves_nothing(
    tmp_path: Path,
) -> None:
    sizes = {}
    for ending in ENDINGS:
        path = tmp_path / f"track{ending}"
        files.write(mix(sheet_of(length_s=4.0), {}), path)
        sound = path.stat().st_size
        path.unlink()
        # At once, in the middle, with the last of the sound, and within the tags.
        sizes[ending] = [0, 20, sound // 2, sound - 2_000, sound + 70_000]
    script = _ON_A_SMALL_DISK.format(endings=sizes)
    told = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert told.stderr == ""
    said = [f"{ending} File too large." for ending in ENDINGS for _ in sizes[ending]]
    assert told.stdout.splitlines() == said
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("ending", ENDINGS)
def test_an_interrupted_write_leaves_what_was_there(
    ending: str, track: Soundtrack, tmp_path: Path
) -> None:
    path = tmp_path / f"track{ending}"
    path.write_bytes(b"from before")
    with (
        patch.object(Soundtrack, "frames", side_effect=KeyboardInterrupt),
        pytest.raises(KeyboardInterrupt),
    ):
        files.write(track, path)
    assert path.read_bytes() == b"from before"
    assert list(tmp_path.iterdir()) == [path]
