"""How sure Whisper's ears may be: ``python -m tests.bench.sureness FOLDER``.

Has Whisper write down what the voices of `TUNING` say in seven rooms, and unrelated sentences, keeps
that in FOLDER, a file for each voice and room, where it is not there yet, and fits the weights of
`coach.ears.recognisers.whisper` and the curves of `coach.ears.recognisers.sureness` to it. Files
hold for one cut and one prompt; everything behind them is computed anew.
"""

from __future__ import annotations

import pickle
import random
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit

from coach.ears.grammar import Grammar, Meaning
from coach.ears.recognisers.choice import choice
from coach.ears.recognisers.sureness import Signs
from coach.ears.recognisers.transcripts import Transcript
from coach.ears.recognisers.whisper import (
    WEIGHTS,
    Weighed,
    Whisper,
    chosen,
    is_as_it_should_be,
    same,
    signs,
)
from coach.ears.segments import RATE, Samples, Segment, Segmenter
from coach.ears.utterance import NOISE, SURE
from coach.ears.voice import detector
from tests.bench.ears.samples import in_room
from tests.ears.attempts import as_pilot, attempts
from tests.ears.pilots import PILOTS
from tests.ears.speakers import OWN, TUNING, say

ROOMS = ("quiet", "engine 10", "fan 10", "babble 20", "babble 10", "engine 5", "fan 5")
SLOT_S, BEFORE_S = 6.5, 1.5
SEED = 4021
SLIP = 3e-4
UNRELATED = (
    "I think the bus leaves at a quarter past nine.",
    "We need thirty chairs and two more tables for the party.",
    "Could you turn the radio down a little, please?",
    "The doctor said that she should rest for ten days.",
    "He is on the phone right now, can you call back later?",
    "There are sixty three steps up to the tower.",
    "My sister lives at number one hundred and two.",
    "Did you see where I left my keys?",
    "It was cold last night, but today the sun is out.",
    "No, I never said that it would cost so much.",
    "The train to the coast was late again.",
    "Put the milk back in the fridge when you are done.",
    "She bought a blue bicycle with a basket.",
    "We should paint the kitchen before the winter.",
    "Two hundred people came to hear the band.",
    "Let me know when the soup is ready.",
)


VOICES = (*TUNING, (OWN, 140), (OWN, 180))


@dataclass(frozen=True)
class Said:
    """Something to say, and what is listened for there; a grammar alone for what is unrelated."""

    words: str
    grammar: Grammar
    meaning: Meaning | None = None

    @property
    def is_right(self) -> bool | None:
        """Whether it is no mistake; None where it is unrelated."""
        return None if self.meaning is None else is_as_it_should_be(self.meaning, self.grammar)


@dataclass(frozen=True, eq=False)
class Written:
    """What Whisper wrote down of one utterance."""

    room: str
    voice: str
    said: Said
    segment: Segment
    transcripts: Sequence[Transcript]


@dataclass(frozen=True, eq=False)
class Example:
    """What one utterance came to.

    Attributes:
        written: of what.
        found: every sentence that it may have been.
        groups: of each of them, which meaning it has.
        true: the meaning that was said, by its number; -1 where it is not among them.
        wrong: of each meaning, whether it is a mistake.
    """

    written: Written
    found: Weighed
    groups: np.ndarray
    true: int
    wrong: np.ndarray

    def signs(self, weights: np.ndarray) -> tuple[Signs, int]:
        """The signs of what is chosen, and which meaning that is."""
        scores = self.found.measures @ weights
        best, share, wrong = chosen(scores, self.groups, self.wrong)
        return signs(self.found, best, share, wrong), int(self.groups[best])


def said(number: int, place: int) -> Iterator[Said]:
    """What one voice says in one room."""
    seed = SEED + len(ROOMS) * number + place
    dice = random.Random(seed)
    answers, told = [*attempts("answer", seed)], [*attempts("answer", seed, as_pilot)]
    for one in (
        *dice.sample(answers, 6), *dice.sample(told, 7), *dice.sample([*attempts("callout", seed)], 4)
    ):  # fmt: skip
        names = (one.moment.name,) if one.named else ()
        yield Said(one.words, one.grammar, Meaning(names, dict(one.values)))
    for way in dice.sample(PILOTS, 2):
        yield Said(
            way.words, way.grammar, Meaning((way.name,) if way.name else (), dict(way.means))
        )
    for words, one in zip(dice.sample(UNRELATED, 2), dice.sample(answers, 2), strict=True):
        yield Said(words, one.grammar)


def written(whisper: Whisper, number: int, place: int) -> Iterator[Written]:
    """What one voice says in one room, cut out as it comes."""
    some, (voice, rate) = [*said(number, place)], VOICES[number]
    sound = np.zeros(round((len(some) * SLOT_S + 2.0) * RATE), np.float32)
    for at, one in enumerate(some):
        spoken = say(one.words, voice, rate)[: round((SLOT_S - BEFORE_S) * RATE)]
        sound[round((at * SLOT_S + BEFORE_S) * RATE) :][: len(spoken)] += spoken
    for segment in cut(in_room(sound, ROOMS[place], number)):
        one = some[min(len(some) - 1, int((segment.start / RATE + 0.25) / SLOT_S))]
        whisper.learn(one.grammar)
        # The sound itself is not needed any more.
        brief = replace(segment, samples=np.zeros(len(segment.samples), np.float16))
        yield Written(
            ROOMS[place], f"{voice} {rate}", one, brief, whisper.written(segment, one.grammar)
        )


def cut(sound: Samples) -> Iterator[Segment]:
    segmenter = Segmenter(is_voice=detector())
    for at in range(0, len(sound), RATE // 20):
        yield from (one for one in segmenter.feed(sound[at : at + RATE // 20]) if one.over)


def kept(whisper: Whisper, folder: Path) -> Iterator[Written]:
    """Everything, measured where need be."""
    folder.mkdir(exist_ok=True)
    # Each round has every room once, so that a few of them are a fair sample already.
    for turn in range(len(VOICES)):
        for place in range(len(ROOMS)):
            number = (turn + place) % len(VOICES)
            path = folder / f"{number}-{place}.pickle"
            if not path.exists():
                path.write_bytes(pickle.dumps([*written(whisper, number, place)]))
            yield from pickle.loads(path.read_bytes())


def example(whisper: Whisper, one: Written) -> Example | None:
    """What an utterance comes to; None where that is nothing."""
    grammar = one.said.grammar
    whisper.learn(grammar)
    found = whisper.weighed(one.transcripts, grammar)
    if found is None:
        return None
    meanings, groups = same(found.meanings)
    true = [at for at, meaning in enumerate(meanings) if meaning == one.said.meaning]
    wrong = np.array([not is_as_it_should_be(meaning, grammar) for meaning in meanings])
    return Example(one, found, groups, true[0] if true else -1, wrong)


def weights_of(examples: Sequence[Example]) -> np.ndarray:
    """What makes the meanings that were said the likeliest."""
    some = [one for one in examples if one.true >= 0]
    ends = np.cumsum([len(one.groups) for one in some])
    starts = np.array([0, *ends[:-1]])
    measures = np.concatenate([one.found.measures for one in some])
    meant = np.concatenate([one.groups == one.true for one in some])
    which = np.repeat(np.arange(len(some)), np.diff([0, *ends]))

    def loss(weights: np.ndarray) -> float:
        scores = measures @ weights
        highest = np.maximum.reduceat(scores, starts)
        likely = np.exp(scores - highest[which])
        share = np.add.reduceat(likely * meant, starts) / np.add.reduceat(likely, starts)
        # Of what was misheard altogether nothing is to be learnt.
        missed = -np.log(share + SLIP).sum()
        return float(missed + 0.5 * np.square(weights - WEIGHTS).sum())

    return np.asarray(minimize(loss, WEIGHTS).x)


def curve(rows: np.ndarray, holds: np.ndarray) -> np.ndarray:
    """A logistic curve's weights, the last one for a constant."""
    whole = np.column_stack([rows, np.ones(len(rows))])
    scale = np.maximum(whole.std(axis=0), 1e-3)
    scale[-1] = 1.0

    def loss(weights: np.ndarray) -> float:
        each = whole / scale @ weights
        misses = np.logaddexp(0.0, np.where(holds, -each, each)).sum()
        return float(misses + 0.5 * np.square(weights[:-1]).sum())

    return np.asarray(minimize(loss, np.zeros(whole.shape[1])).x / scale)


def unseen(
    rows: np.ndarray, holds: np.ndarray, among: np.ndarray, voices: np.ndarray
) -> np.ndarray:
    """The logarithm of the odds of each row, by a curve that its own voice had no part in."""
    found = np.zeros(len(rows))
    for voice in np.unique(voices):
        others, own = among & (voices != voice), voices == voice
        weights = curve(rows[others], holds[others])
        found[own] = np.column_stack([rows, np.ones(len(rows))])[own] @ weights
    return found


def main(folder: Path) -> None:
    """Measure where need be, fit, and print."""
    opened, _ = choice().opened()
    assert isinstance(opened, Whisper)
    found = [example(opened, one) for one in kept(opened, folder)]
    examples = [one for one in found if one is not None]
    weights = weights_of(examples)
    print("WEIGHTS =", np.round(weights, 2).tolist())
    rows = [one.signs(weights) for one in examples]
    told = np.array([[*vars(each).values()] for each, _ in rows])
    understood = told[:, :-1]
    true = np.array([meaning == one.true for one, (_, meaning) in zip(examples, rows, strict=True)])
    everywhere = np.ones(len(true), bool)
    first = curve(understood, true)
    print("UNDERSTOOD =", np.round([*first[:-1], 0.0, first[-1]], 3).tolist())
    accused = np.array(
        [bool(one.wrong[meaning]) for one, (_, meaning) in zip(examples, rows, strict=True)]
    )
    right, wrong = (
        np.array([one.written.said.is_right is is_it for one in examples])
        for is_it in (True, False)
    )
    print("MISTAKEN =", np.round(curve(told[accused], wrong[accused]), 3).tolist())
    voices = np.array([one.written.voice for one in examples])
    where = np.array([one.written.room for one in examples])
    sure = expit(unseen(understood, true, everywhere, voices))
    mistakes = unseen(told, wrong, accused, voices)
    print("Of each voice by the others':")
    for asked_for in (0.0, 1.0, 1.5, 2.0, 2.5, 3.0):
        print(f"RESERVE = {asked_for}:")
        called = accused & (sure > NOISE) & (expit(mistakes - asked_for) >= SURE)
        for room in (*ROOMS, "all"):
            here = (where == room) | (room == "all")
            print(
                f"  {room:10} {(here & (right | wrong)).sum():4} "
                f"exact {share(true, here & (right | wrong))} "
                f"right called wrong {share(called, here & right)} "
                f"wrong heard {share(accused, here & wrong)} found {share(called, here & wrong)} "
                f"right sure {share(~accused & (sure >= SURE), here & right)}"
            )
        taken = called | (~accused & (sure >= SURE))
        print("  unrelated taken for something:", share(taken, ~right & ~wrong))


def share(holds: np.ndarray, among: np.ndarray) -> str:
    return f"{100 * holds[among].mean():5.1f} %"


if __name__ == "__main__":
    main(Path(sys.argv[1]))
