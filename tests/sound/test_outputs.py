"""Promises of the way a device is chosen. No loudspeaker is needed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

import coach
from coach.problems import Problem
from coach.sound import outputs as ways
from coach.sound.backends import Fill, Output, silent
from coach.sound.outputs import open_player, outputs

from .crank import HandCranked
from .tape import ramp

REPOSITORY = Path(coach.__file__).parent.parent


def test_the_environment_can_ask_for_silence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_OUTPUT", "silent")
    player = open_player(ramp(0.1))
    assert isinstance(player._device, silent.SilentDevice)


def test_an_unknown_device_is_answered_with_what_there_is() -> None:
    with pytest.raises(Problem, match="no sound device called silnt; did you mean silent"):
        open_player(ramp(0.1), "silnt")


def backend(*names: str) -> Any:
    """A back end of such devices, the first of which is the usual one."""

    def open_device(fill: Fill, name: str | None) -> HandCranked:
        device = HandCranked()
        device.name = name or names[0]
        return device

    return SimpleNamespace(
        Refused=OSError,
        open_device=open_device,
        outputs=lambda: [Output(name, "a back end", name == names[0], 0.1) for name in names],
    )


def test_every_way_is_listed_once_and_silence_is_always_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(ways, "_backends", lambda: [backend("desk", "ear"), backend("ear", "far")])
    assert [(output.name, output.usual) for output in outputs()] == [
        ("desk", True),
        ("ear", False),
        ("far", False),
        ("silent", False),
    ]
    monkeypatch.setattr(ways, "_backends", list)
    assert outputs() == [Output("silent", "captions only", True, None)]


def test_a_named_device_is_waited_for_a_while_before_the_usual_one_stands_in(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def again(wanted: str | None, missed_s: float) -> str | None:
        device = ways._find_again(wanted, lambda *_, **__: None, missed_s)
        return None if device is None else device.name

    monkeypatch.setattr(ways, "_backends", lambda: [backend("desk")])
    assert again(None, 0.0) == "desk"
    assert again("ear", ways.NAMED_AWAY_S - 1) is None
    assert again("ear", ways.NAMED_AWAY_S) == "desk"
    monkeypatch.setattr(ways, "_backends", lambda: [backend("desk", "ear")])
    assert again("ear", 0.0) == "ear"


def test_a_machine_without_a_sound_device_is_told_so_in_one_sentence_and_sees_no_noise(
    tmp_path: Path,
) -> None:
    no_such_card = tmp_path / "alsa.conf"
    no_such_card.write_text("pcm.!default { type hw card 31 }")
    code = (
        "from coach.sound import outputs; from tests.sound.tape import ramp;"
        "p = outputs.open_player(ramp(0.01));"
        "p.start(); p.stop(); print(p.note)"
    )
    nowhere = {
        "ALSA_CONFIG_PATH": str(no_such_card),
        "PULSE_SERVER": "unix:/nowhere",
        "JACK_NO_START_SERVER": "1",
        "XDG_RUNTIME_DIR": "/nowhere",
    }
    environment = {**os.environ, **nowhere}
    environment.pop("COACH_OUTPUT", None)
    child = subprocess.run(
        [sys.executable, "-c", code],
        env=environment,
        cwd=REPOSITORY,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert child.stderr == ""
    assert child.stdout.startswith("No sound device: captions only; connect headphones")
    assert len(child.stdout.splitlines()) == 1
