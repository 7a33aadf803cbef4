"""A soundtrack as a file, with its title and its chapters where a player looks for them.

Chapters are written as the "ID3v2 Chapter Frame Addendum" 1.0 (id3.org) says for MP3 and for WAV's
ID3 chunk, and as the "Chapter Extension" of Vorbis comments (wiki.xiph.org) says for FLAC and Opus;
both from memory.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from typing import Any

import soundfile

from coach.problems import ending, written
from coach.sound.soundtrack import Soundtrack
from coach.words import timestamp

BLOCK = 4 * 48_000
"""Frames rendered at once: all that lies in memory of a soundtrack, however long it is."""


@dataclass(frozen=True)
class Chapter:
    """Where a part of a soundtrack begins; it ends with the next one's beginning."""

    start_s: float
    title: str


@dataclass(frozen=True)
class Form:
    """A form of sound file.

    Attributes:
        container: soundfile's name of it.
        subtype: soundfile's name of what it holds.
        tags: the class of mutagen that writes its tags.
        quality: what soundfile is told beyond that.
    """

    container: str
    subtype: str
    tags: str
    quality: Mapping[str, Any] = field(default_factory=dict)


_OPUS = Form("OGG", "OPUS", "oggopus.OggOpus", {"compression_level": 0.8})

FORMS: Mapping[str, Form] = {
    ".wav": Form("WAV", "PCM_16", "wave.WAVE"),
    ".flac": Form("FLAC", "PCM_16", "flac.FLAC"),
    ".opus": _OPUS,
    ".ogg": _OPUS,
    ".mp3": Form(
        "MP3",
        "MPEG_LAYER_III",
        "mp3.MP3",
        {"bitrate_mode": "VARIABLE", "compression_level": 0.4},
    ),
}
"""By ending. Whatever the form, a frame lies where it lay in the soundtrack: Opus and MP3 say in
their headers how much silence their coding put in front, and a decoder takes it off."""


def write(
    soundtrack: Soundtrack,
    path: Path,
    *,
    title: str = "",
    chapters: Sequence[Chapter] = (),
    comment: str = "",
    fingerprint: str = "",
) -> None:
    """Write the soundtrack in stereo; the file is either whole or not there.

    Args:
        soundtrack: what to write.
        path: where; its ending, one of `FORMS`, says in what form.
        title: what a player shows.
        chapters: in order, the first one at the beginning.
        comment: one line for whoever looks at the file's tags.
        fingerprint: what `fingerprint` shall read from it.

    Raises:
        Problem: another ending, or a place that cannot be written.
    """
    form = FORMS[ending(path, *FORMS)]
    with written(path) as part:
        _encode(soundtrack, part, form)
        file = _tags(form)(part)
        if file.tags is None:
            file.add_tags()
        if form.container in ("WAV", "MP3"):
            for frame in _id3(title, chapters, comment, fingerprint, soundtrack.length_s):
                file.tags.add(frame)
        else:
            file.tags.update(_vorbis(title, chapters, comment, fingerprint))
        _save(file)
        if chapters and form.container in ("WAV", "MP3"):
            _chapters_in_order(part)


def fingerprint(path: Path) -> str:
    """The fingerprint that a file was written with; "" where it has none or cannot be read."""
    form = FORMS[ending(path, *FORMS)]
    try:
        tags = _tags(form)(path).tags or {}
    except Exception:  # whatever mutagen meets in a file that is damaged
        return ""
    found = tags.get("TXXX:fingerprint") or tags.get("fingerprint") or [""]
    return str(found[0])


def _encode(soundtrack: Soundtrack, part: Path, form: Form) -> None:
    try:
        with soundfile.SoundFile(
            part,
            "w",
            soundtrack.rate,
            soundtrack.channels,
            form.subtype,
            format=form.container,
            **form.quality,
        ) as file:
            for start in range(0, soundtrack.length, BLOCK):
                file.write(soundtrack.frames(start, min(BLOCK, soundtrack.length - start)))
        failed = False
    except soundfile.LibsndfileError:
        failed = True
    # On a disk that is full the library fails without a reason, and at the end of Opus and MP3 not
    # even that. Python says why, when it asks for as much as the library writes at once.
    with part.open("ab") as more:
        size = more.tell()
        more.write(bytes(1 << 16))
        more.truncate(size)
    if failed:
        raise OSError("the sound library failed")


def _tags(form: Form) -> Any:
    """The class that reads and writes a form's tags, imported where it is used."""
    module, name = form.tags.split(".")
    return getattr(import_module(f"mutagen.{module}"), name)


def _save(file: Any) -> None:
    from mutagen import MutagenError

    try:
        file.save()
    except MutagenError as error:
        why = error.args[0]  # mostly what Python said of the disk
        raise why if isinstance(why, OSError) else OSError(str(why)) from None


def _id3(
    title: str, chapters: Sequence[Chapter], comment: str, fingerprint: str, length_s: float
) -> Iterator[Any]:
    id3: Any = import_module("mutagen.id3")
    if title:
        yield id3.TIT2(text=title)
    if comment:
        yield id3.COMM(lang="eng", text=comment)
    if fingerprint:
        yield id3.TXXX(desc="fingerprint", text=fingerprint)
    names = [f"chapter{index}" for index in range(len(chapters))]
    if chapters:
        in_order_at_the_top = id3.CTOCFlags.TOP_LEVEL | id3.CTOCFlags.ORDERED
        yield id3.CTOC(element_id="contents", flags=in_order_at_the_top, child_element_ids=names)
    edges = [round(1000.0 * time) for time in (*(one.start_s for one in chapters), length_s)]
    for name, chapter, (start, end) in zip(names, chapters, itertools.pairwise(edges), strict=True):
        yield id3.CHAP(
            element_id=name,
            start_time=start,
            end_time=end,
            sub_frames=[id3.TIT2(text=chapter.title)],
        )


def _chapters_in_order(part: Path) -> None:
    """Lay the table of contents and then the chapters by their times at the end of the ID3 tag.

    Mutagen lays frames by their lengths; many a player takes chapters as they come. The layout is
    that of "ID3 tag version 2.4.0, Main Structure", sections 3.1 and 4 (id3.org; from memory).
    """
    with part.open("r+b") as file:
        if file.read(4) == b"RIFF":
            file.seek(12)
            while file.read(4).lower() not in (b"id3 ", b""):
                length = int.from_bytes(file.read(4), "little")
                file.seek(length + length % 2, 1)
            start = file.tell() + 4
        else:
            start = 0
        file.seek(start)
        left = file.read(_without_high_bits(file.read(10)[6:]))
        frames: list[bytes] = []
        while left.strip(b"\0"):
            length = 10 + _without_high_bits(left[4:8])
            frames.append(left[:length])
            left = left[length:]
        frames.sort(key=_place)
        file.seek(start + 10)
        file.write(b"".join(frames))


def _place(frame: bytes) -> tuple[bool, bool, bytes]:
    """What frames of an ID3 tag are sorted by: chapters behind all others, by their times."""
    is_chapter = frame.startswith(b"CHAP")
    start_time = frame[10:].partition(b"\0")[2][:4] if is_chapter else b""
    return is_chapter, is_chapter or frame.startswith(b"CTOC"), start_time


def _without_high_bits(size: bytes) -> int:
    """A size in ID3, which leaves the highest bit of every byte free."""
    return sum(byte << 7 * place for place, byte in enumerate(reversed(size)))


def _vorbis(
    title: str, chapters: Sequence[Chapter], comment: str, fingerprint: str
) -> dict[str, str]:
    tags = {"TITLE": title, "DESCRIPTION": comment, "FINGERPRINT": fingerprint}
    for index, chapter in enumerate(chapters):
        tags[f"CHAPTER{index:03}"] = timestamp(round(1000.0 * chapter.start_s))
        tags[f"CHAPTER{index:03}NAME"] = chapter.title
    return {name: text for name, text in tags.items() if text}
