"""How far apart two rows of sounds are: what one would have to mishear to take it for the other.

A weighted edit distance (Levenshtein 1966). The weights are guesses from phonetics: sounds that
are made alike, at one place of the mouth or in one manner, are taken for one another more easily
than others, and soft consonants and short vowels are lost most easily.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from coach.ears.recognisers.sounds import NUMBER, PHONEMES, Sounds

Costs = npt.NDArray[np.float32]

_VOWELS = frozenset("AA AE AH AO AW AY EH ER EY IH IY OW OY UH UW".split())
_SOFT = frozenset("HH T D R L N Y W".split())
_MANNERS = [
    frozenset(row.split())
    for row in ("P B T D K G", "F V TH DH S Z SH ZH CH JH HH", "M N NG", "L R W Y")
]
_PLACES = [
    frozenset(row.split())
    for row in "P B,T D,K G,F V,TH DH,S Z,SH ZH CH JH,M N NG,L R W,Y IY".split(",")
]
_NEAR = frozenset(
    frozenset(pair.split("-"))
    for pair in (
        "AA-AO AA-AH AE-EH AH-IH AH-UH EH-IH IH-IY UH-UW AO-OW AE-AH AH-EH EH-EY AY-AA ER-AH AW-AE "
        "OY-AO ER-AO AO-AH OW-AH AE-AY EY-IH ER-EH UW-Y ER-R L-OW L-W B-V F-TH DH-V DH-D T-TH P-F "
        "HH-F TH-S CH-SH JH-DH NG-N"
    ).split()
)


def _taken_for(one: str, other: str) -> float:
    if one == other:
        return 0.0
    if frozenset((one, other)) in _NEAR:
        return 0.45
    vowels = (one in _VOWELS) + (other in _VOWELS)
    if vowels:
        return 1.3 if vowels == 1 else 0.7
    if any({one, other} <= place for place in _PLACES):
        return 0.5
    return 0.8 if any({one, other} <= manner for manner in _MANNERS) else 1.0


SWAPPED: Costs = np.array([[_taken_for(a, b) for b in PHONEMES] for a in PHONEMES], np.float32)
"""What it costs to take one sound for another, by their numbers."""

LOST: Costs = np.array(
    [0.75 if one in _VOWELS else 0.5 if one in _SOFT else 0.8 for one in PHONEMES], np.float32
)
"""What it costs to miss a sound, or to hear one that was not there."""

assert len(NUMBER) == len(SWAPPED)


def distances(heard: Sounds, sentences: Sequence[Sounds]) -> Costs:
    """How far each of several sentences is from what was heard, all of them at once.

    Args:
        heard: one row of sounds.
        sentences: at least one.
    """
    longest = max(map(len, sentences))
    wanted = np.zeros((len(sentences), longest), np.intp)
    lost = np.zeros((len(sentences), longest + 1), np.float32)
    for row, sentence in enumerate(sentences):
        wanted[row, : len(sentence)] = sentence
        lost[row, 1 : len(sentence) + 1] = LOST[list(sentence)]
    # What it costs to miss all of a sentence up to each place.
    missed = np.cumsum(lost, axis=1)
    so_far = missed
    for sound in heard:
        reached = so_far + LOST[sound]
        reached[:, 1:] = np.minimum(reached[:, 1:], so_far[:, :-1] + SWAPPED[sound][wanted])
        # Missing more of the sentence, from the cheapest place before.
        so_far = np.minimum.accumulate(reached - missed, axis=1) + missed
    ends = [len(sentence) for sentence in sentences]
    found: Costs = so_far[np.arange(len(sentences)), ends]
    return found
