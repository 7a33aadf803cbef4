"""Promises of what the coach says to an answer."""

from __future__ import annotations

from coach.callouts.replies import YES, replies

from .flown import flown

FLIGHT = flown("lazy-eight")


def test_to_a_right_answer_it_says_yes_and_else_no_more_than_what_belongs_there() -> None:
    found = replies(FLIGHT)
    assert found[0, ()] == YES
    assert found[0, ("bank",)].spoken == "Bank fifteen."
    top, lowest = FLIGHT.moments[1:3]
    assert found[1, ("speed",)].text == f"{top.ias_kt:.0f} kt."
    below = f"Pitch {-lowest.pitch_deg:.0f}° below level, bank 15°."
    assert found[2, ("pitch", "bank")].text == below
    assert found[2, ("pitch", "bank")].spoken.endswith("below level, bank fifteen.")


def test_there_is_a_reply_to_every_answer_and_nine_may_be_niner() -> None:
    turn = flown("steep-turn-45")
    index, moment = next((i, one) for i, one in enumerate(turn.moments) if "heading" in one.asks)
    assert {wrong for at, wrong in replies(turn) if at == index} >= {(), moment.asks}
    spoken = {phrase.spoken for phrase in replies(turn, niner=True).values()}
    assert not any("nine " in words or words.endswith("nine.") for words in spoken)
