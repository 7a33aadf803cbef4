"""Placement keeps its promises, and nothing better exists."""

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.callouts.cuesheet import Phrase
from coach.callouts.placement import BREATH_S, KINDS, Placed, Wanted, place

PHRASES = tuple(Phrase(word, word) for word in ("the long phrasing", "a shorter one", "short"))


@st.composite
def wanted(draw: st.DrawFn, most: int = 5) -> list[Wanted]:
    """Callouts in order, crowded enough that not everything fits."""
    found = []
    for _ in range(draw(st.integers(0, most))):
        lengths = draw(st.lists(st.floats(0.3, 4.0), min_size=1, max_size=2))
        lengths.sort(reverse=True)
        kind = draw(st.sampled_from(KINDS))
        found.append(
            Wanted(
                start_s=draw(st.integers(0, 24)) / 4.0,
                slack_s=0.0 if kind == "checkpoint" else draw(st.sampled_from([0.0, 0.25, 0.5])),
                kind=kind,
                phrasings=PHRASES[: len(lengths)],
                lengths_s=tuple(lengths),
                where="somewhere",
            )
        )
    return sorted(found, key=lambda one: one.start_s)


def worth(placed: list[Placed]) -> tuple[float, ...]:
    return tuple(round(sum(part), 6) for part in zip(*(one.value for one in placed), strict=True))


def fits(placed: list[Placed]) -> bool:
    return all(a.end_s + BREATH_S <= b.start_s for a, b in itertools.pairwise(placed))


@settings(max_examples=200, deadline=None)
@given(wanted())
def test_no_other_choice_is_better(callouts: list[Wanted]) -> None:
    options: list[list[Placed | None]] = [
        [None]
        + [
            Placed(one, start, phrasing)
            for phrasing in range(len(one.phrasings))
            for start in one.starts
            if start >= 0.0
        ]
        for one in callouts
    ]
    best: tuple[float, ...] = ()
    for choice in itertools.product(*options):
        said = [one for one in choice if one is not None]
        if said and fits(said):
            best = max(best, worth(said))
    assert worth(place(callouts, 0.0)) == best


@settings(deadline=None)
@given(wanted(most=40))
def test_phrases_never_overlap_and_a_checkpoint_s_name_stays_on_its_moment(
    callouts: list[Wanted],
) -> None:
    placed = place(callouts, 0.0)
    assert fits(placed)
    for one in placed:
        assert abs(one.start_s - one.wanted.start_s) <= one.wanted.slack_s
        if one.wanted.kind == "checkpoint":
            assert one.start_s == one.wanted.start_s


def test_the_more_important_callout_is_kept() -> None:
    number = Wanted(0.0, 0.0, "number", PHRASES[:1], (3.0,), "")
    safety = Wanted(1.0, 0.0, "safety", PHRASES[:1], (3.0,), "")
    control = Wanted(2.0, 0.0, "control", PHRASES[:1], (3.0,), "")
    assert [one.wanted.kind for one in place([number, safety, control], 0.0)] == ["safety"]


def test_a_shorter_phrasing_is_said_before_a_callout_is_dropped() -> None:
    first = Wanted(0.0, 0.0, "control", PHRASES[:2], (3.0, 0.5), "")
    second = Wanted(1.0, 0.0, "number", PHRASES[:1], (1.0,), "")
    assert [one.phrasing for one in place([first, second], 0.0)] == [1, 0]
