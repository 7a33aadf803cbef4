"""What is chosen once on a machine: kept, shown, and refused in one sentence."""

from __future__ import annotations

from pathlib import Path

import platformdirs
import pytest

from coach.problems import Problem
from coach.settings import Fitted, Settings, change, fit, keep, load, told


def test_without_any_choice_everything_has_a_value() -> None:
    assert load() == Settings()
    assert all(level == 1.0 for level in load().levels.values())


def test_what_was_chosen_is_there_the_next_time() -> None:
    keep(change(load(), ["voice=old friend", "rate=150", "niner=on", "support=tones"]))
    keep(change(load(), ["engine=off", "airflow=40 %", "rate=160"]))
    kept = load()
    assert (kept.voice, kept.rate, kept.niner, kept.support) == ("old friend", 160, True, "tones")
    assert kept.levels == {"airflow": 0.4, "engine": 0, "balance": 1, "flutter": 1, "ticks": 1}


def test_a_settings_file_may_say_on_and_off(home: Path) -> None:
    (home / "settings.yaml").write_text("engine: off\nticks: true\nniner: yes\nairflow: 'on'\n")
    kept = load()
    assert kept.niner
    assert kept.levels == {"airflow": 1, "engine": 0, "balance": 1, "flutter": 1, "ticks": 1}


def test_an_empty_value_takes_a_choice_back(home: Path) -> None:
    keep(change(load(), ["rate=150", "voice=old friend"]))
    keep(change(load(), ["rate=", "voice="]))
    assert load() == Settings()
    assert (home / "settings.yaml").read_text() == "{}\n"


@pytest.mark.parametrize("written", ["", "# rate: 150\n"])
def test_a_settings_file_may_hold_no_choice_at_all(home: Path, written: str) -> None:
    (home / "settings.yaml").write_text(written)
    assert load() == Settings()


def test_only_what_differs_is_written_so_that_a_later_coach_may_choose_better(home: Path) -> None:
    keep(change(load(), ["ticks=50%"]))
    assert (home / "settings.yaml").read_text() == "ticks: 50 %\n"
    assert dict(told(load()))["ticks"] == "50 %"


@pytest.mark.parametrize(
    ("pair", "words"),
    [
        ("engin=off", "There is no setting 'engin'; did you mean engine?"),
        ("rate=fast", "rate: found 'fast'"),
        ("rate=16²", "rate: found '16²'"),
        ("rate=20", "rate: found 20, expected at least 60"),
        ("airflow=loud", "found 'loud', expected a share in %, such as '65 %'"),
        ("airflow=140 %", "found 140 %, expected 0 % to 100 %"),
        ("support=everthing", "did you mean everything?"),
        ("quiet", "Found 'quiet', expected NAME=VALUE such as rate=160."),
        ("voice: x=1", "There is no setting 'voice: x'; did you mean voice?"),
    ],
)
def test_what_cannot_be_is_one_sentence(pair: str, words: str) -> None:
    with pytest.raises(Problem) as told_so:
        change(Settings(), [pair])
    assert words in str(told_so.value)
    assert "line" not in str(told_so.value)


def test_who_has_no_home_folder_is_told_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    def unknown(*_: object, **__: object) -> str:
        raise RuntimeError("could not determine the home directory")

    monkeypatch.delenv("COACH_HOME")
    monkeypatch.setattr(platformdirs, "user_data_dir", unknown)
    with pytest.raises(Problem, match="set COACH_HOME to a folder"):
        load()


def test_a_settings_file_edited_wrongly_is_told_by_its_line(home: Path) -> None:
    (home / "settings.yaml").write_text("rate: 150\nvoise: x\n")
    with pytest.raises(Problem, match="line 2: unknown key 'voise'; did you mean voice"):
        load()


def test_what_fits_a_microphone_is_kept_by_its_name_and_forgotten_like_any_choice(
    home: Path,
) -> None:
    keep(change(load(), ["rate=150"]))
    fit("Headset, USB", Fitted(begins=1.25, goes_on=0.5))
    fit("attic", Fitted(begins=2.0, goes_on=1.0))
    fit("attic", Fitted(begins=3.0, goes_on=1.0))
    assert load().listening == {
        "Headset, USB": Fitted(begins=1.25, goes_on=0.5),
        "attic": Fitted(begins=3.0, goes_on=1.0),
    }
    with pytest.raises(Problem, match="coach listen fits that; listening= alone forgets"):
        change(load(), ["listening=attic"])
    keep(change(load(), ["listening="]))
    assert load() == Settings(rate=150)
    (home / "settings.yaml").write_text("listening:\n  attic: {begins: 1, goes on: 99}\n")
    with pytest.raises(Problem, match=r"line 2: goes on: found 99, expected at most 12"):
        load()
