"""Placement keeps its promises, and nothing better exists."""

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.callouts.cuesheet import Phrase
from coach.callouts.placement import BREATH_S, KINDS, SHIFT_S, Phrasing, Placed, Wanted, place

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
        phrasings = tuple(
            Phrasing(
                phrase,
                # Its own start: the name may be anywhere in it, or it must be over at its moment.
                moment - draw(st.sampled_from([0.0, length / 2.0, length])),
                length,
                earlier,
                later,
                gap_s=1.5 if kind == "question" else 0.0,
            )
            for phrase, length in zip(PHRASES, sorted(lengths, reverse=True), strict=False)
        )
        found.append(Wanted(kind, phrasings))
    return sorted(found, key=lambda one: one.phrasings[-1].start_s)


def one(kind: str, start_s: float, *lengths_s: float) -> Wanted:
    phrasings = zip(PHRASES, lengths_s, strict=False)
    return Wanted(kind, tuple(Phrasing(phrase, start_s, length) for phrase, length in phrasings))


def fits(placed: list[Placed]) -> bool:
    return all(
        first.start_s + first.phrasing.length_s + max(BREATH_S, first.phrasing.gap_s)
        <= second.start_s
        for first, second in itertools.pairwise(placed)
    )


def worth(placed: list[Placed]) -> tuple[float, ...]:
    """What the module's first lines promise, item by item."""
    kinds = [sum(one.wanted.kind == kind for one in placed) for kind in KINDS]
    steps = [-sum(p.number for p in placed if p.wanted.kind != "question")]
    steps += [-sum(p.number for p in placed if p.wanted.kind == "question")]
    shifts = sum(abs(p.start_s - p.phrasing.start_s) for p in placed)
    return (*kinds, *steps, -round(shifts, 6))


def starts(phrasing: Phrasing) -> list[int]:
    """Steps of `SHIFT_S` that stay within what the phrasing allows."""
    return [
        step for step in range(-8, 9) if -phrasing.earlier_s <= SHIFT_S * step <= phrasing.later_s
    ]


@settings(max_examples=500, deadline=None)
@given(wanted())
def test_no_other_choice_is_better(callouts: list[Wanted]) -> None:
    options: list[list[Placed | None]] = [
        [None]
        + [
            choice
            for number, phrasing in enumerate(one.phrasings)
            for step in starts(phrasing)
            if (choice := Placed(one, number, step)).start_s >= 0.0
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
            assert found.start_s == found.phrasing.start_s + SHIFT_S * found.step


def test_the_more_important_callout_is_kept() -> None:
    callouts = [one("number", 0.0, 3.0), one("safety", 1.0, 3.0), one("control", 2.0, 3.0)]
    assert [bool(placed) for placed in place(callouts, 0.0)] == [False, True, False]


def test_a_shorter_phrasing_is_said_before_a_callout_is_dropped() -> None:
    placed = place([one("control", 0.0, 3.0, 0.5), one("number", 1.0, 1.0)], 0.0)
    assert [found.number for found in placed if found] == [1, 0]


def test_a_question_is_shortened_further_before_an_answer_is_at_all() -> None:
    answer = one("checkpoint", 0.0, 2.0, 1.0)
    early, late = one("question", 2.0, 2.0, 1.0), one("question", 3.0, 1.0)
    question = Wanted("question", early.phrasings + late.phrasings)
    assert [found.number for found in place([answer, question], 0.0) if found] == [0, 2]


def test_nothing_is_said_in_the_silence_after_a_question() -> None:
    question = Wanted("question", (Phrasing(PHRASES[0], 0.0, 1.0, gap_s=3.0),))
    said = [place([question, one("number", start_s, 1.0)], 0.0)[1] for start_s in (3.9, 4.0)]
    assert [placed is not None for placed in said] == [False, True]
