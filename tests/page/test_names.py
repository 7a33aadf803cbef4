"""Names that look like nothing, or like another's, by Unicode's own tables."""

from __future__ import annotations

import pytest

from coach.page.server.names import matches, same, tidy
from coach.problems import Problem


@pytest.mark.parametrize(
    "nothing",
    [
        "",
        " ",
        "\u3164",
        "\u2800",
        "\u200b\u200d",
        "\u115f\u1160",
        "\ufffd",
        "\ufe0f",
        "\u202e\u00ad",
    ],
)
def test_a_name_that_shows_nothing_is_none(nothing: str) -> None:
    with pytest.raises(Problem, match="Your name is empty: give a first name or a nickname"):
        tidy(nothing, "Your name")


@pytest.mark.parametrize(
    "name", ["Eve\ufffd", "\u3164Eve", "E\u200bve", "Eve\u2800", " Eve\ufe0f "]
)
def test_what_shows_nothing_makes_no_other_name(name: str) -> None:
    assert tidy(name, "Your name") == "Eve"


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Ada", "\u0410da"),  # a Cyrillic A
        ("Ada", "Ad\u0430"),  # and a small one
        ("Ada", "\u0391da"),  # a Greek Alpha
        ("Ada", "\uff21\uff44\uff41"),  # full-width letters
        ("Ada", "ADA"),
        ("Bill", "BiIl"),
        ("Ian", "lan"),
        ("Lee", "Iee"),
        ("BO", "B0"),
        ("Zo\u00eb", "Zoe\u0308"),
        ("Max", "\u039cax"),
    ],
)
def test_names_that_look_alike_are_one(one: str, other: str) -> None:
    assert same(tidy(one, "Your name"), tidy(other, "Your name")) and same(other, one)


@pytest.mark.parametrize(
    ("one", "other"),
    [("Ada", "Ida"), ("Ada", "Adam"), ("Bo", "Jo"), ("Ada", "\u00c5da"), ("S1", "S2")],
)
def test_names_that_can_be_told_apart_are_two(one: str, other: str) -> None:
    assert not same(one, other)


def test_a_secret_is_only_itself() -> None:
    assert matches("s3cret", "s3cret")
    for other in ("", "s3cre", "s3cret ", "S3CRET", "\ud800", "\u0455\u0033cret"):
        assert not matches(other, "s3cret")
