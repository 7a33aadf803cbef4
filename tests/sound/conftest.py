"""Sheets and real phrases for the tests of what is heard."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from coach.callouts.cuesheet import Cue, CueSheet, Phrase
from coach.sound.clip import Clip
from coach.sound.tones import tone
from coach.sound.voices import speak

PHRASES = ("bank thirty", "nose on the horizon", "more right rudder", "speed sixty two")


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """No test reads or writes the student's own folder."""
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture(scope="session")
def clips(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, Clip]:
    """A few phrases, really spoken."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COACH_HOME", str(tmp_path_factory.mktemp("voice")))
        spoken = speak(PHRASES)
    assert spoken.problem is None, spoken.problem
    return spoken.clips


@pytest.fixture(scope="session")
def sheet(clips: Mapping[str, Clip]) -> CueSheet:
    """Four phrases and five checkpoints over 12 seconds, tones under phrases among them."""
    cues = [
        Cue(0.25 + 2.9 * k, clips[text].length_s, phrase=Phrase(text.capitalize(), text))
        for k, text in enumerate(PHRASES)
    ]
    length_s = tone("checkpoint").length_s
    cues += [Cue(t, length_s, tone="checkpoint") for t in (0.5, 2.7, 5.12345, 8.0, 11.5)]
    return CueSheet(tuple(sorted(cues, key=lambda cue: cue.start_s)), (), 0.0, 12.0)
