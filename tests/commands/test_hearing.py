"""The options of listening and ``coach listen``: what is wrong with them is one sentence."""

from __future__ import annotations

import contextlib
import time
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner

from coach.commands import hearing
from coach.commands.cli import main
from coach.ears.grammar import Grammar
from coach.ears.levels import Level
from coach.ears.source import Deaf
from coach.ears.trial import SAMPLES
from coach.ears.utterance import Utterance
from coach.problems import Problem
from coach.rehearsal.ready import fly, prepare
from coach.settings import load
from tests.rehearsal.test_run import DAY, KITE
from tests.sound.hurried import Hurried

NOT_GIVEN: dict[str, Any] = {
    "tappers": None, "microphone": None, "loudspeakers": False, "push_to_talk": False,
    "keep_audio": None,
}  # fmt: skip


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"listen": False, "push_to_talk": True}, "--push-to-talk goes with --listen"),
        ({"listen": False, "microphone": "attic"}, "--microphone goes with --listen"),
        ({"listen": False, "loudspeakers": True}, "--loudspeakers goes with --listen"),
        ({"listen": False, "keep_audio": Path("a.wav")}, "--keep-audio goes with --listen"),
        ({"listen": True, "tappers": "Ada=a"}, "leave --tappers out"),
        ({"listen": True, "keep_audio": Path("a.mp3")}, "a.mp3: its name must end in .wav"),
        ({"listen": True, "keep_audio": Path("/nowhere/a.wav")}, "a.wav: cannot be written"),
    ],
)
def test_options_that_cannot_be_are_one_sentence_before_anything_is_planned(
    given: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(Problem, match=sentence):
        hearing.check(**{**NOT_GIVEN, **given})


def test_options_that_can_be_leave_nothing_behind_and_no_file_is_overwritten(
    tmp_path: Path,
) -> None:
    path = tmp_path / "a.wav"
    given = {**NOT_GIVEN, "listen": True, "keep_audio": path, "push_to_talk": True}
    hearing.check(**given)
    assert not path.exists()
    path.touch()
    with pytest.raises(Problem, match="is there already"):
        hearing.check(**given)


def deaf(_: str | None = None) -> None:
    raise Deaf("No microphone was found")


def test_without_a_microphone_the_rehearsal_goes_on_with_taps_and_its_screen_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("coach.commands.hearing.open_microphone", deaf)
    ready = prepare(fly("lazy-eight", KITE, DAY), DAY)
    with hearing.ears(ready, None, False, False, None) as (opens, note):
        assert opens is None
        assert note == "No microphone was found; the rehearsal goes on with taps."


class Mouth:
    """Ears for `coach listen`, which hear what they are told to."""

    def __init__(
        self, hears: dict[str, str], gone_at: int = 99, stands_out_db: float = 8.0
    ) -> None:
        self.stands_out_db = stands_out_db
        self._hears, self._gone_at = hears, gone_at
        self._asked = 0
        self.deaf, self.told = "", "the ears of a test"

    def __enter__(self) -> Mouth:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def wait(self) -> None:
        pass

    def expect(self, grammar: Grammar, since: float) -> int:
        self._asked += 1
        if self._asked >= self._gone_at:
            self.deaf = "attic, the microphone, is gone"
        return self._asked

    def utterances(self) -> list[Utterance]:
        words = self._hears.get(SAMPLES[self._asked - 1].words)
        at = time.perf_counter()
        return [Utterance(words, at, at + 0.5, self._asked, 0.9)] if words else []

    def levels(self) -> list[Level]:
        stands_out_db = self.stands_out_db if self._asked else 0.1
        return [Level(0.0, 1e-3 if self._asked else 1e-6, 0.5, stands_out_db)]


def listened(monkeypatch: pytest.MonkeyPatch, mouth: Mouth) -> tuple[int, str]:
    """How it ended, and what it printed."""
    monkeypatch.setattr(
        "coach.commands.listen.open_microphone", lambda _: SimpleNamespace(name="attic")
    )
    monkeypatch.setattr("coach.commands.listen.Ears", lambda _: mouth)
    timekeeper = Hurried()
    monkeypatch.setattr(
        "coach.commands.listen.time",
        SimpleNamespace(perf_counter=timekeeper.now, sleep=timekeeper.sleep),
    )
    done = CliRunner().invoke(main, ["listen"])
    return done.exit_code, done.output


def test_listen_asks_for_words_says_what_it_heard_and_ends_with_a_plain_verdict(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    hears = {line.words: line.words for line in SAMPLES} | {SAMPLES[0].words: "bank twenty"}
    code, told = listened(monkeypatch, Mouth(hears))
    assert code == 0
    assert told.startswith("attic listens, for the ears of a test.\nBe quiet for ")
    assert (
        "Say (1 of 8): bank thirty\n  heard: bank twenty, 90 % sure, at -30 dB  (not that)\n"
        in told
    )
    assert (
        "Say (2 of 8): sixty five knots\n  heard: sixty five knots, 90 % sure, at -30 dB\n" in told
    )
    noise, cost, fits, verdict = told.splitlines()[-4:]
    assert noise.startswith("Noise -60 dB, your voice -30 dB of full scale")
    assert cost.startswith("The recogniser was ready in ")
    assert fits.startswith("Fitted to your voice: at this microphone it is heard from ")
    assert verdict == "This microphone will do in this room: 7 of 8 understood."
    _, told = listened(monkeypatch, Mouth({}))
    assert told.count("heard: nothing, at -30 dB\n") == 8
    assert told.splitlines()[-1].startswith("It will not do: 0 of 8 understood; speak plainly")
    assert "fit" not in told


def test_what_a_voice_needs_at_a_microphone_is_kept_for_rehearsals_there(
    monkeypatch: pytest.MonkeyPatch, home: Path
) -> None:
    hears = {line.words: line.words for line in SAMPLES}
    listened(monkeypatch, Mouth(hears, stands_out_db=5.0))
    plain = load().listening.get("attic")
    _, told = listened(monkeypatch, Mouth(hears, stands_out_db=2.5))
    faint = load().listening.get("attic")
    assert plain is not None and faint is not None and faint.begins < plain.begins
    assert f"it is heard from {faint.begins:.2g} dB above the noise on" in told
    assert "coach settings listening= forgets it" in told
    CliRunner().invoke(main, ["settings", "listening="], catch_exceptions=False)
    assert load().listening.get("attic") is None


def test_listen_stops_with_one_sentence_where_the_microphone_is_gone_or_never_was_there(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    code, told = listened(monkeypatch, Mouth({}, gone_at=3))
    assert code == 1 and told.splitlines()[-1] == "Error: attic, the microphone, is gone."
    monkeypatch.setattr("coach.commands.listen.open_microphone", deaf)
    done = CliRunner().invoke(main, ["listen"])
    assert (done.exit_code, done.output) == (1, "Error: No microphone was found.\n")


class Kept:
    """Ears whose file went some way."""

    def __init__(self, source: object, *, covered: object, keep_audio: Path) -> None:
        self.kept = ""
        self._path = keep_audio

    def __enter__(self) -> Kept:
        return self

    def __exit__(self, *_: object) -> None:
        self.kept = f"{self._path}: cannot be written: No space left on device."

    def wait(self) -> None:
        pass


@pytest.mark.parametrize("broken_off", [False, True])
def test_what_became_of_the_kept_sound_is_said_however_the_run_ended(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    broken_off: bool,
) -> None:
    monkeypatch.setattr(
        "coach.commands.hearing.open_microphone", lambda _: SimpleNamespace(name="attic")
    )
    monkeypatch.setattr("coach.commands.hearing.Ears", Kept)
    monkeypatch.setattr("coach.commands.hearing.Listening", lambda *_: None)
    ready = prepare(fly("lazy-eight", KITE, DAY), DAY)
    path = tmp_path / "a.wav"
    with contextlib.suppress(KeyboardInterrupt):  # noqa: SIM117
        with hearing.ears(ready, None, False, False, path) as (opens, _):
            assert opens is not None
            opens(SimpleNamespace(position_s=lambda _: 0.0))  # type: ignore[arg-type]
            if broken_off:
                raise KeyboardInterrupt
    said = capsys.readouterr().err
    assert said.endswith(f"{path}: cannot be written: No space left on device.\n")
    assert "Wrote" not in said
