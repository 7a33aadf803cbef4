"""Placement keeps its promises, and nothing better exists."""

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.callouts.cuesheet import Phrase
from coach.callouts.placement import (
    BREATH_S,
    KINDS,
    SHIFT_S,
    Phrasing,
    Placed,
    Question,
    Wanted,
    place,
)

PHRASES = tuple(Phrase(word, word) for word in ("the long phrasing", "a shorter one", "short"))


@st.composite
def wanted(draw: st.DrawFn, most: int = 4) -> list[Wanted]:
    """Callouts in order, crowded enough that not everything fits."""
    found = []
    for _ in range(draw(st.integers(0, most))):
        kind = draw(st.sampled_from(KINDS))
        lengths = draw(st.lists(st.floats(0.3, 4.0), min_size=1, max_size=2))
        moment = draw(st.integers(0, 24)) / 4.0
        earlier, later = (draw(st.sampled_from([0.0, 0.25, 0.5])) for _ in range(2))
        if kind == "checkpoint":
            earlier = later = 0.0
        asks = kind == "checkpoint" and draw(st.booleans())
        phrasings = tuple(
            Phrasing(
                phrase,
                # Its own start: the name may be anywhere in it, or it must be over at its moment.
                moment - draw(st.sampled_from([0.0, length / 2.0, length])),
                length,
                earlier,
                later,
                gap_s=1.5 if kind == "checkpoint" else 0.0,
                down=number,
                # The last way of what asks only tells.
                question=Question(PHRASES[2], moment - 2.0 - length, 0.5, 0.5)
                if asks and number == 0
                else None,
            )
            for number, (phrase, length) in enumerate(
                zip(PHRASES, sorted(lengths, reverse=True), strict=False)
            )
        )
        found.append(Wanted(kind, phrasings))
    return sorted(found, key=lambda one: one.phrasings[-1].start_s)


def one(kind: str, start_s: float, *lengths_s: float) -> Wanted:
    phrasings = zip(PHRASES, lengths_s, strict=False)
    return Wanted(
        kind,
        tuple(
            Phrasing(phrase, start_s, length, down=number)
            for number, (phrase, length) in enumerate(phrasings)
        ),
    )


def fits(placed: list[Placed]) -> bool:
    return all(
        first.start_s + first.phrasing.length_s + max(BREATH_S, first.phrasing.gap_s)
        <= second.begins_s
        for first, second in itertools.pairwise(placed)
    )


def worth(placed: list[Placed]) -> tuple[float, ...]:
    """What the module's first lines promise, item by item."""
    kinds = [sum(one.wanted.kind == kind for one in placed) for kind in KINDS]
    steps = -sum(p.number for p in placed)
    shifts = sum(abs(p.begins_s - (p.phrasing.question or p.phrasing).start_s) for p in placed)
    return (*kinds, steps, -round(shifts, 6))


def starts(phrasing: Phrasing) -> list[int]:
    """Steps of `SHIFT_S` that stay within what the phrasing allows."""
    earlier_s = (phrasing.question or phrasing).earlier_s
    return [step for step in range(-8, 9) if -earlier_s <= SHIFT_S * step <= phrasing.later_s]


@settings(max_examples=500, deadline=None)
@given(wanted())
def test_no_other_choice_is_better(callouts: list[Wanted]) -> None:
    options: list[list[Placed | None]] = [
        [None]
        + [
            choice
            for number, phrasing in enumerate(one.phrasings)
            for step in starts(phrasing)
            if (choice := Placed(one, number, step)).begins_s >= 0.0
        ]
        for one in callouts
    ]
    choices = ([one for one in choice if one] for choice in itertools.product(*options))
    best = max(worth(said) for said in choices if fits(said))
    assert worth([placed for placed in place(callouts, 0.0) if placed]) == best


@settings(deadline=None)
@given(wanted(most=40))
def test_phrases_never_overlap_and_stay_where_they_belong(callouts: list[Wanted]) -> None:
    placed = place(callouts, 0.0)
    assert len(placed) == len(callouts)
    assert fits([one for one in placed if one])
    for asked, found in zip(callouts, placed, strict=True):
        if found:
            assert found.wanted is asked
            assert found.step in starts(found.phrasing)
            belongs = (found.phrasing.question or found.phrasing).start_s
            assert found.begins_s == belongs + SHIFT_S * found.step
            if found.phrasing.question:
                assert found.start_s == found.phrasing.start_s


def test_the_more_important_callout_is_kept() -> None:
    callouts = [one("number", 0.0, 3.0), one("safety", 1.0, 3.0), one("control", 2.0, 3.0)]
    assert [bool(placed) for placed in place(callouts, 0.0)] == [False, True, False]


def test_a_shorter_phrasing_is_said_before_a_callout_is_dropped() -> None:
    placed = place([one("control", 0.0, 3.0, 0.5), one("number", 1.0, 1.0)], 0.0)
    assert [found.number for found in placed if found] == [1, 0]


def test_a_question_is_not_asked_where_its_answer_has_no_room() -> None:
    asked = Phrasing(PHRASES[0], 4.0, 2.0, question=Question(PHRASES[2], 1.0, 1.0))
    checkpoint = Wanted("checkpoint", (asked, Phrasing(PHRASES[2], 4.0, 0.5, down=1)))
    for begins_s, number in ((6.25, 0), (6.0, 1)):
        placed = place([checkpoint, one("safety", begins_s, 1.0)], 0.0)
        assert [found.number for found in placed if found] == [number, 0]


def test_nothing_is_said_between_a_question_and_its_answer() -> None:
    asked = Phrasing(PHRASES[0], 4.0, 1.0, question=Question(PHRASES[2], 1.0, 1.0))
    checkpoint = Wanted("checkpoint", (asked,))
    for kind in KINDS[2:]:
        said = place([one(kind, 2.5, 0.5), checkpoint], 0.0)
        assert [found is not None for found in said] == [False, True]
