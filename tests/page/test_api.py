"""Rehearsing alone, by the requests that the page makes."""

from __future__ import annotations

import io
import itertools
import re
import signal
import wave
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from coach.callouts.controls import say_rudder
from coach.page.alone.chosen import LONGEST_VALUE, Chosen, Given
from coach.page.alone.form import form
from coach.settings import USUAL
from tests.page.people import CHOSEN, Served, served


@pytest.fixture(scope="module")
def ready(alone: Served) -> Any:
    with alone.client() as client:
        begun = client.post("/api/rehearsals", json=CHOSEN).json()
        return client.get(f"/api/rehearsals/{begun['id']}").json()


@pytest.fixture
def own(home: Path) -> Iterator[Served]:
    """A server that a test may change or end: all others share one."""
    with served(home) as server:
        yield server


def picture_size(svg: str) -> tuple[float, float]:
    """How wide and how high a picture is, in points."""
    wide, high = re.findall(r' (?:width|height)="([\d.]+)pt"', svg)[:2]
    return float(wide), float(high)


def test_the_library_is_what_can_be_chosen(alone: Served) -> None:
    with alone.client() as client:
        library = client.get("/api/library").json()
    assert "lazy-eight" in [one["name"] for one in library["maneuvers"]]
    assert "meadow-four" in [one["name"] for one in library["airplanes"]]
    assert library["supports"][:2] == ["auto", "everything"]


def test_whatever_the_form_offers_can_be_chosen() -> None:
    fields = form(USUAL)
    first = Chosen(**fields["first"] | {"pace": 1.0})
    given = [field for field in fields["day"] if "input" in field]
    assert {field["name"] for field in fields["day"]} == set(Given.model_fields)
    assert all(field["input"].get("maxlength", LONGEST_VALUE) == LONGEST_VALUE for field in given)
    for field in fields["heard"]:
        for value, words in field["options"]:
            told = float(value) if field["name"] == "pace" else value
            assert Chosen(**{**first.model_dump(), field["name"]: told, "day": Given()})
            assert words


def test_the_brief_is_that_of_the_day(alone: Served) -> None:
    with alone.client() as client:
        day = {"weight": "2000 lb", "direction": "left", "loops": 1}
        asked = {"maneuver": "lazy-eight", "day": day}
        brief = client.post("/api/brief", json=asked).json()
        assert brief["entry"]["weight_lb"] == pytest.approx(2000.0)
        assert (brief["entry"]["first_turn"], brief["entry"]["loops"]) == ("left", 1)
        wide, upright = (
            client.post(f"/api/brief.svg{shape}", json=asked) for shape in ("", "?upright")
        )
        assert wide.headers["content-type"] == "image/svg+xml"
        assert picture_size(upright.text)[0] < picture_size(wide.text)[0]
        for row in brief["checkpoints"]:
            assert row["rudder_words"] == say_rudder(row["rudder"])


def test_the_limits_are_those_of_the_checkride_that_is_learned_for(alone: Served) -> None:
    # FAA-S-ACS-6 and FAA-S-ACS-7, task VII.A: 100 ft for a private pilot, 50 for a commercial one.
    asked = {"maneuver": "slow-flight", "day": {}}
    with alone.client() as client:

        def altitudes() -> list[str]:
            standards = client.post("/api/brief", json=asked).json()["standards"]
            rows = [row for one in standards for row in one["limits"]]
            return [row["within"] for row in rows if row["what"] == "altitude"]

        assert altitudes() == ["100 ft", "50 ft"]
        for checkride, within in (("private", "100 ft"), ("commercial", "50 ft")):
            assert client.post("/api/checkride", json={"checkride": checkride}).json() == {}
            assert altitudes() == [within]
            assert client.get("/api/library").json()["form"]["checkride"]["value"] == checkride
        other = client.post("/api/brief", json={**asked, "maneuver": "lazy-eight"}).json()
        assert other["not_asked"] == ""
        client.post("/api/checkride", json={"checkride": "private"})
        other = client.post("/api/brief", json={**asked, "maneuver": "lazy-eight"}).json()
        assert other["not_asked"].startswith("The private checkride does not ask for this")
        assert "problem" in client.post("/api/checkride", json={"checkride": "any"}).json()
        client.post("/api/checkride", json={"checkride": ""})
        assert altitudes() == ["100 ft", "50 ft"]


def test_what_is_ready_has_the_brief_that_it_was_chosen_by(alone: Served, ready: Any) -> None:
    with alone.client() as client:
        path = f"/api/rehearsals/{ready['id']}/brief"
        assert client.get(path).json() == client.post("/api/brief", json=CHOSEN).json()
        chosen, of_ready = client.post("/api/brief.svg", json=CHOSEN), client.get(f"{path}.svg")
        assert picture_size(chosen.text) == picture_size(of_ready.text)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"maneuver": "lazy-ate"}, "did you mean lazy-eight?"),
        ({"maneuver": "/etc/passwd.yaml"}, "There is no maneuver"),
        ({"maneuver": "lazy-eight", "airplane": "../x"}, "There is no airplane"),
        ({"maneuver": "lazy-eight", "day": {"weight": "9 tons"}}, "Weight: "),
        ({"maneuver": "lazy-eight", "day": {"wind": "sideways"}}, "Wind: found 'sideways'"),
        ({"maneuver": "lazy-eight", "pace": 1.6}, "pace: "),
        ({"maneuver": "lazy-eight", "support": "some"}, "support: "),
    ],
)
def test_what_cannot_be_flown_is_said_in_a_sentence(
    alone: Served, asked: dict[str, Any], said: str
) -> None:
    with alone.client() as client:
        for path in ("brief", "brief.svg", "rehearsals"):
            answer = client.post(f"/api/{path}", json=asked)
            assert answer.status_code == 400
            assert said in answer.json()["problem"]


def test_a_rehearsal_begins_with_its_opening_and_goes_on_as_the_whole_of_it(
    alone: Served, ready: Any
) -> None:
    with alone.client() as client:
        begun = client.post("/api/rehearsals", json={**CHOSEN, "pace": 0.9}).json()
        whole = client.get(f"/api/rehearsals/{begun['id']}").json()
    assert ready["whole"] and whole["whole"]
    for name in ("id", "flight_start_s", "track", "moments", "legs", "shows", "pace"):
        assert begun[name] == whole[name], name
    assert begun["cues"] == whole["cues"][: len(begun["cues"])]
    assert begun["pieces"] == whole["pieces"][: len(begun["pieces"])]
    assert begun["whole"] or begun["length_s"] in whole["pieces"]


def test_the_pieces_are_the_soundtrack(alone: Served, ready: Any) -> None:
    heard: list[Any] = []
    with alone.client() as client:
        for piece in range(len(ready["pieces"])):
            found = client.get(f"/api/rehearsals/{ready['id']}/sound/{piece}.wav")
            with wave.open(io.BytesIO(found.content)) as file:
                assert (file.getnchannels(), file.getframerate()) == (2, 48000)
                frames = np.frombuffer(file.readframes(file.getnframes()), "<i2")
            begins = sum(map(len, heard)) / 2 / 48000
            assert begins == pytest.approx(ready["pieces"][piece], abs=1e-9)
            heard.append(frames)
        beyond = client.get(f"/api/rehearsals/{ready['id']}/sound/{len(ready['pieces'])}.wav")
        assert beyond.status_code == 400
    whole = np.concatenate(heard)
    assert len(whole) / 2 / 48000 == pytest.approx(ready["length_s"], abs=1e-4)
    assert np.abs(whole).max() > 1000


def test_what_is_drawn_meets_the_checkpoints(ready: Any) -> None:
    track = ready["track"]
    assert len({len(column) for column in track.values()}) == 1
    steps = [b - a for a, b in itertools.pairwise(track["position_s"])]
    assert min(steps) > 0.05 and max(steps) < 0.15
    turned = [abs(b - a) for a, b in itertools.pairwise(track["across_deg"])]
    assert max(turned) < 5.0
    for moment in ready["moments"]:
        bank = np.interp(moment["position_s"], track["position_s"], track["bank_deg"])
        assert bank == pytest.approx(moment["bank_deg"], abs=2.0)
        east = np.interp(moment["position_s"], track["position_s"], track["east_ft"])
        assert east == pytest.approx(moment["east_ft"], abs=20.0)
    legs = ready["legs"]
    assert (legs[0]["name"], legs[0]["position_s"]) == ("eyes closed", ready["flight_start_s"])
    assert [leg["position_s"] for leg in legs] == sorted(leg["position_s"] for leg in legs)
    assert ready["ground"] is None
    assert all(cue["start_s"] <= cue["end_s"] <= ready["length_s"] for cue in ready["cues"])


def test_a_student_flies_taps_and_is_debriefed(alone: Served, ready: Any) -> None:
    begun_on = date.today()
    with alone.client() as client:
        begun = client.post("/api/attempts", json={"rehearsal": ready["id"], "student": "Ida"})
        run = begun.json()["run"]

        def said(what: str, **body: Any) -> Any:
            return client.post(f"/api/attempts/{run}/{what}", json=body).json()

        assert said("taps", position_s=1.0) == {"time_s": None}
        assert said("reached", position_s=2.0) == {}
        for moment in ready["moments"]:
            tapped = said("taps", position_s=moment["position_s"] + 0.1)
            assert tapped["time_s"] == pytest.approx(moment["time_s"] + 0.1, abs=1e-6)
        number = said("end", position_s=ready["length_s"], ended="finished")["number"]
        debrief = client.get(f"/api/runs/{number}").json()
        assert debrief["timing"]["constant_error_s"] == pytest.approx(0.1, abs=1e-3)
        assert debrief["run"]["student"] == "Ida"
        wide, upright = (
            client.get(f"/api/runs/{number}/picture.svg{shape}").text for shape in ("", "?upright")
        )
        assert picture_size(upright)[0] < picture_size(wide)[0]
        told = client.get("/api/logbook?student=Ida").json()
        assert "Ida" in told["students"]
        (past,) = told["maneuvers"]
        line = past["recent"][0]
        assert (line["id"], line["on_time"]) == (number, line["checkpoints"])
        assert line["when"] == "today" or date.today() > begun_on  # at midnight
        assert said("taps", position_s=3.0)["problem"] == "That attempt is over: start again."
        # The coach now knows how much to say.
        again = client.post("/api/rehearsals", json={**CHOSEN, "support": "auto", "student": "Ida"})
        assert again.json()["why"].endswith(".")


def test_an_attempt_stopped_in_the_count_in_is_no_run(alone: Served, ready: Any) -> None:
    with alone.client() as client:
        begun = client.post("/api/attempts", json={"rehearsal": ready["id"]}).json()
        answer = client.post(
            f"/api/attempts/{begun['run']}/end", json={"position_s": 1.0, "ended": "stopped"}
        )
        assert answer.json() == {"number": None}


def test_an_attempt_stopped_before_its_first_checkpoint_leaves_nothing(
    alone: Served, ready: Any
) -> None:
    first_s = ready["moments"][0]["position_s"]
    with alone.client() as client:
        body = {"rehearsal": ready["id"], "student": "Una"}
        run = client.post("/api/attempts", json=body).json()["run"]
        for what in ("taps", "reached"):
            client.post(f"/api/attempts/{run}/{what}", json={"position_s": first_s - 0.4})
        answer = client.post(
            f"/api/attempts/{run}/end", json={"position_s": first_s - 0.2, "ended": "stopped"}
        )
        assert answer.json() == {"number": None}
        assert "Una" not in client.get("/api/logbook?student=Una").json()["students"]


def test_what_to_fly_next_is_told_to_a_newcomer_who_says_what_for(own: Served) -> None:
    with own.client() as client:
        assert client.get("/api/library").json()["unkept"] == ""
        assert client.get("/api/next").json() == []
        client.post("/api/checkride", json={"checkride": "instrument"})
        (one,) = client.get("/api/next").json()
        assert (one["maneuver"], one["reason"]) == ("holding-pattern", "Never flown.")


def test_what_is_not_there_is_said_so(alone: Served) -> None:
    with alone.client() as client:
        assert client.get("/api/runs/999999").status_code == 404
        assert "not ready any more" in client.get("/api/rehearsals/x").json()["problem"]
        assert client.get("/api/room").json() == {"problem": "No room is open here."}


def test_a_room_can_be_opened_from_the_page(own: Served) -> None:
    with own.client() as client:
        assert client.post("/api/room", json={"name": " \t"}).status_code == 400
        room = client.post("/api/room", json={"name": "Hangar"}).json()
        assert room == client.get("/api/room").json()
        assert room["link"] == f"http://{own.host}/join#{room['code']}"
        assert "<svg" in client.get("/api/room/qr.svg").text


def test_ctrl_c_ends_the_server_with_a_word(own: Served) -> None:
    assert own.end(signal.SIGINT).strip().endswith("The page is closed.")
    assert own.process.returncode == 0
