"""Rehearsals as files to take along: one, or the whole library at once."""

from __future__ import annotations

import contextlib
import hashlib
import json
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

import numpy as np

from coach import __version__
from coach.callouts.captions import webvtt
from coach.callouts.cuesheet import CueSheet
from coach.flight.day import Day, shared
from coach.flight.flight import Flight
from coach.problems import Problem, writing, written
from coach.rehearsal.ready import Rehearsal, fly, prepare, support_without_runs
from coach.script import catalog
from coach.script.contents import loaded
from coach.settings import Settings
from coach.shelf import away, data_folder, found, shipped
from coach.sound import files
from coach.sound.files import Chapter
from coach.words import CAUTION, side_of

ENDING = ".mp3"
"""The form of a recorded library, unless another one is asked for."""


@dataclass(frozen=True)
class Recorded:
    """What became of one maneuver when a library was recorded.

    Attributes:
        maneuver: its name.
        path: its file.
        made: whether the file was written now; False where it was current, or cannot be made.
        note: one sentence on what is to be known of it, or an empty text.
        problem: why it cannot be made; None where it can.
    """

    maneuver: str
    path: Path
    made: bool = False
    note: str = ""
    problem: Problem | None = None


def chapters(flight: Flight, sheet: CueSheet) -> tuple[Chapter, ...]:
    """The introduction, then each loop; of a flight with a single loop each leg."""
    found = [Chapter(0.0, "Introduction")]
    turns = bool(np.ptp(flight.recorded("heading")) > 0.1)
    for span in flight.spans:
        if len(flight.sides) == 1:
            title = span.leg[0].upper() + span.leg[1:]
        else:
            side = side_of(flight.sides[span.loop - 1])
            title = f"Loop {span.loop}" + (f", to the {side}" if turns else "")
        if title != found[-1].title:
            found.append(Chapter(sheet.position_s(span.start_s), title))
    return tuple(found)


def record(
    rehearsal: Rehearsal, path: Path, *, captions: Path | None = None, fingerprint: str = ""
) -> None:
    """Write a rehearsal's soundtrack with its title and chapters.

    Args:
        rehearsal: from `coach.rehearsal.ready.prepare`.
        path: the sound file; its ending, one of `coach.sound.files.FORMS`, says in what form.
        captions: where its captions are written as WebVTT, if anywhere.
        fingerprint: what is kept in the file to know it by.

    Raises:
        Problem: another ending, or a place that cannot be written.
    """
    flight, sheet = rehearsal.flight, rehearsal.sheet
    if captions is not None:
        with written(captions) as part:
            part.write_text(webvtt(sheet), encoding="utf-8")
    files.write(
        rehearsal.soundtrack,
        path,
        title=flight.maneuver.title,
        chapters=chapters(flight, sheet),
        comment=CAUTION,
        fingerprint=fingerprint,
    )


def record_all(
    folder: Path,
    library: Iterable[str],
    airplane: str,
    day: Day,
    settings: Settings,
    *,
    pace: float = 1.0,
    ending: str = ENDING,
    show: Callable[[Recorded], None] = lambda _: None,
) -> list[Recorded]:
    """Record many maneuvers into a folder, each with its captions beside it.

    As many processes work at it as the machine has processors. A file that was made from just
    what it would be made from now stays as it is. One for which another voice had to stand in is
    made anew the next time.

    Args:
        folder: where; it is made if need be.
        library: the maneuvers, by the names of their scripts.
        airplane: its name or file.
        day: the day.
        settings: how they are spoken and heard.
        pace: 1 is the airplane's own tempo.
        ending: the form of every file, one of `coach.sound.files.FORMS`.
        show: called with each maneuver as soon as it is done.

    Returns:
        The same, in the order in which they were done. A maneuver that cannot be flown has a
        problem, and what lay in its place stays.

    Raises:
        Problem: the form, the folder or the airplane is at fault, or a process was ended from
            outside.
    """
    catalog.find("airplanes", airplane)
    with writing(folder):
        folder.mkdir(parents=True, exist_ok=True)
    done: list[Recorded] = []

    def told(one: Recorded) -> None:
        done.append(one)
        show(one)

    jobs = []
    for maneuver in library:
        path = folder / f"{maneuver}{ending}"
        try:
            wanted = fingerprint(maneuver, airplane, day, settings, pace)
        except Problem as problem:
            told(Recorded(maneuver, path, problem=problem))
            continue
        if files.fingerprint(path) == wanted and path.with_suffix(".vtt").is_file():
            told(Recorded(maneuver, path))
        else:
            jobs.append(_Job(maneuver, airplane, day, settings, pace, path, wanted))
    _spread(jobs, told)
    return done


def fingerprint(
    maneuver: str, airplane: str, day: Day, settings: Settings, pace: float = 1.0
) -> str:
    """One text for everything that a recording is made from, the coach itself by its version.

    Raises:
        Problem: there is no such maneuver or airplane.
    """
    scripts = [catalog.find("maneuvers", maneuver), catalog.find("airplanes", airplane)]
    tones = [
        tone
        for place in (data_folder(), shipped("audio_cues").parent)
        for tone in found(place / "audio_cues", "*")
    ]
    try:
        contents = [loaded(path) for path in scripts] + [path.read_bytes() for path in tones]
    except OSError as error:
        raise Problem(f"{error.filename}: cannot be read: {error.strerror}.") from None
    heard = {
        "support": support_without_runs(settings),
        "pace": pace,
        "voice": settings.voice or None,
        "words_per_minute": settings.rate,
        "niner": settings.niner,
        "levels": settings.levels,
    }
    hashes = [hashlib.sha256(content).hexdigest() for content in contents]
    made_from = [__version__, hashes, vars(day), heard]
    return hashlib.sha256(json.dumps(made_from, sort_keys=True).encode()).hexdigest()


@dataclass(frozen=True)
class _Job:
    maneuver: str
    airplane: str
    day: Day
    settings: Settings
    pace: float
    path: Path
    fingerprint: str


def _made(job: _Job) -> Recorded:
    """One recording, in a process of its own."""
    try:
        day = shared(job.day, catalog.maneuver(job.maneuver))
        rehearsal = prepare(fly(job.maneuver, job.airplane, day), day, job.settings, pace=job.pace)
        note = rehearsal.note or ""
        record(
            rehearsal,
            job.path,
            captions=job.path.with_suffix(".vtt"),
            fingerprint="" if note else job.fingerprint,
        )
    except Problem as problem:
        return Recorded(job.maneuver, job.path, problem=problem)
    except SystemExit:
        os._exit(1)  # the pool would catch it and go on with the next one
    return Recorded(job.maneuver, job.path, made=True, note=note)


def _spread(jobs: list[_Job], told: Callable[[Recorded], None]) -> None:
    """The jobs done in as many processes as there are processors; none is left when it stops."""
    if not jobs:
        return
    count = min(len(jobs), os.cpu_count() or 1)
    spawn = multiprocessing.get_context("spawn")
    with away():  # it starts a process that looks after the others
        made = ProcessPoolExecutor(count, spawn, initializer=_begin)
    with made as pool:
        try:
            with _interrupt_held(), away():
                futures = [pool.submit(_made, job) for job in jobs]
            for future in as_completed(futures):
                told(future.result())
        except BrokenProcessPool:
            raise Problem("Recording was ended from outside; what is written is whole.") from None
        except BaseException:
            for worker in multiprocessing.active_children():
                worker.terminate()
            pool.shutdown(cancel_futures=True)
            raise


@contextlib.contextmanager
def _interrupt_held() -> Iterator[None]:
    """Ctrl-C waits, and a process that is begun meanwhile never hears it."""
    if sys.platform == "win32":
        yield
        return
    # The mask is what those processes inherit. It holds for this thread alone: another thread may
    # take the signal, and Python would answer it here.
    given: list[int] = []
    ours = signal.getsignal(signal.SIGINT)
    answers = ours is not None and threading.current_thread() is threading.main_thread()
    if answers:
        signal.signal(signal.SIGINT, lambda number, _: given.append(number))
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
        if answers:
            signal.signal(signal.SIGINT, ours)
        if given:
            signal.raise_signal(signal.SIGINT)


def _begin() -> None:
    """In a process of the pool: end tidily when the coach says so, and when it is gone."""

    def leave(*_: object) -> NoReturn:
        raise SystemExit

    def again(lost: sys.UnraisableHookArgs) -> None:
        """A destructor swallows what is raised in it: leave a moment later."""
        if lost.exc_type is not SystemExit:
            sys.__unraisablehook__(lost)
        elif sys.platform != "win32":
            signal.signal(signal.SIGALRM, leave)
            signal.setitimer(signal.ITIMER_REAL, 0.05)

    def follow() -> None:
        if coach := multiprocessing.parent_process():
            coach.join()
        os.kill(os.getpid(), signal.SIGTERM)

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    sys.unraisablehook = again
    threading.Thread(target=follow, daemon=True).start()
    # Last: nothing is to be ended tidily before a recording begins, and the pool would tell of it.
    signal.signal(signal.SIGTERM, leave)
