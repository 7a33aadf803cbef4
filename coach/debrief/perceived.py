"""How much of what a student did was not perceived, and what helps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from coach.debrief.verdict import Verdict
from coach.taps.unheard import NOT_SEEN, Why
from coach.words import counted, listed

HELP: Mapping[Why, tuple[str, str]] = {
    "not understood": ("not understood", "sit nearer, or push to talk"),
    "the coach spoke": ("while the coach spoke", "wear headphones, or answer once it is silent"),
    "the ears were busy": ("while the ears were busy", "close what else keeps this machine busy"),
    "no microphone": ("without a sound from the microphone", "`coach listen` tries it out"),
    "the room was loud": (
        "nothing heard in a loud room",
        "nearer to the microphone, or push to talk",
    ),
    NOT_SEEN: ("the hand not seen", "keep the phone's page open and its screen on"),
    "nothing was heard": ("nothing was heard", "`coach listen` tries the microphone"),
}
"""How it is told, and what helps, by why it was not perceived."""


def perceived(verdicts: Sequence[Verdict]) -> str:
    """How much was not perceived, that it counts for nothing, and what helps; "" for nothing.

    Such as ``"2 of 16 not counted: not understood (sit nearer, or push to talk)."`` And how many
    that are missed may have been answered while the coach still asked.
    """
    return " ".join(filter(None, (_not_counted(verdicts), _under_questions(verdicts))))


def _not_counted(verdicts: Sequence[Verdict]) -> str:
    lost = _lost(verdicts)
    if not lost:
        return ""
    if all(verdict.unheard[:1] == ("nothing was heard",) for verdict in verdicts):
        return "Nothing was heard in this run: `coach listen` tries the microphone."
    why = Counter(verdict.unheard[0] for verdict in lost)
    told = [
        f"{f'{number} ' if len(why) > 1 else ''}{HELP[one][0]} ({HELP[one][1]})"
        for one, number in why.most_common()
    ]
    return f"{len(lost)} of {len(verdicts)} not counted: {listed(told)}."


def _under_questions(verdicts: Sequence[Verdict]) -> str:
    missed = sum(verdict.unanswered for verdict in verdicts)
    if not missed:
        return ""
    return (
        f"{counted(missed, 'question')} without an answer: one given while the coach asks is not "
        f"heard ({HELP['the coach spoke'][1]})."
    )


def mostly(verdicts: Sequence[Verdict]) -> Why | None:
    """Why most of what was not perceived was not; None where everything was."""
    why = Counter(one for verdict in _lost(verdicts) for one in verdict.unheard)
    return why.most_common(1)[0][0] if why else None


def what_helps(verdicts: Sequence[Verdict]) -> str:
    """What helps most, as an order: ``"wear headphones"``; "" where everything was perceived."""
    why = mostly(verdicts)
    return HELP[why][1] if why else ""


def _lost(verdicts: Sequence[Verdict]) -> list[Verdict]:
    return [verdict for verdict in verdicts if verdict.word == "not perceived"]
