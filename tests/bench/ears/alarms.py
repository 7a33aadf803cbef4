"""What unrelated speech is taken for: ``python -m tests.bench.ears.alarms``.

Ten minutes of sentences that tuning has not met, by voices that nothing was tuned on, while
answers are listened for, and once more while callouts are.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

import numpy as np

from coach.callouts.cuesheet import Cue
from coach.ears.passages import Passage, placed
from tests.bench.ears.samples import SEED, in_room
from tests.ears.attempts import attempts
from tests.ears.listening import listen
from tests.ears.speakers import FRESH, chatter, keep_in, missing
from tests.sound.sheets import sheet_of

EACH_S = 15.0
"""So long is one place's grammar listened with."""

SENTENCES = (
    "Could you pick up the parcel on your way home, it is at the shop on the corner.",
    "The museum is closed on Mondays, so we went to the botanical garden instead.",
    "He has been repairing that old motorcycle since the beginning of the spring.",
    "I left my umbrella on the bus again, which is the third one this year.",
    "Nobody told me that the meeting had been moved to the other building.",
    "My sister is learning to swim, and she is not afraid of the deep end any more.",
    "If the oven is hot you can put the potatoes in and set the timer.",
    "The train at ten past six was so full that we waited for the next one.",
    "There is a hole in the fence, and the rabbits come in every night.",
    "We should really paint the kitchen before my parents come to stay.",
    "She speaks four languages, but she says that she dreams in only one of them.",
    "The film was far too long, and the end made no sense at all.",
    "Have you seen my glasses, I thought that they were on the piano.",
    "The washing machine makes a strange noise whenever it starts to spin.",
    "Their youngest boy has started school, and he carries a bag as big as himself.",
    "It snowed so much last winter that the village had no power for two days.",
    "Do not forget to water the tomatoes, they dry out quickly in this heat.",
    "The doctor says that I should walk more and worry less.",
    "I am looking for a present for my grandmother, who will be ninety in June.",
    "The ferry leaves from the old harbour, just behind the fish market.",
    "Our neighbour plays the trumpet, and luckily he has become quite good at it.",
    "Put the cheese back in the fridge, or the dog will have it.",
    "They argued about the map for an hour, and then they asked a policeman.",
    "The library has a room where you can read newspapers from all over the world.",
    "Can you hold the ladder while I have a look at the gutter.",
    "The price of coffee has gone up again, and nobody knows why.",
    "When I was a child we used to catch crabs with a piece of string.",
    "He bought a house with a tower, and now he does not know what to do with it.",
    "The choir sings in the church on Thursday evenings, and you are welcome to join.",
    "Someone has parked in front of our gate, so I cannot get the car out.",
)
"""Unrelated speech that nothing was tuned on."""


def understood(kind: str, minutes: float) -> str:
    """What came of so many minutes."""
    known = [*{one.grammar.jsgf: one.grammar for one in attempts(kind, SEED)}.values()]
    voices = [one for one in FRESH if not missing(one[0])][::2]
    each_s = minutes * 60.0 / len(voices)
    taken: list[str] = []
    unclear = heard = 0
    for number, (voice, rate) in enumerate(voices):
        sound = in_room(chatter(each_s, voice, rate, 5 * number, SENTENCES), "quiet", number)
        since = np.arange(0.0, each_s, EACH_S)
        grammars = [known[(7 * number + at) % len(known)] for at in range(len(since))]
        for one in listen(sound, [*zip(since, grammars, strict=True)]):
            question = Cue(one.start_s - 1.0, 0.5, gap_s=3.0, moment=0)
            place = Passage(0.0, 0, grammars[one.expected], question if kind == "answer" else None)
            spoken = placed(one, one.start_s, place, sheet_of())
            heard += 1
            if spoken is not None and not spoken.sure:
                unclear += 1
            elif spoken is not None:
                taken.append(f"{voice} “{one.words}” ({one.sure:.2f})")
    return (
        f"{minutes:g} min of unrelated speech, {kind}s listened for: {len(taken)} taken for one, "
        f"{unclear} called unclear, of {heard} utterances; {', '.join(taken) or 'none'}"
    )


def main() -> None:
    """Both kinds."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.ears.alarms", description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--spoken", type=Path, help="the folder of what was spoken")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        keep_in(asked.spoken or Path(folder))
        for kind in ("answer", "callout"):
            print(understood(kind, asked.minutes), flush=True)


if __name__ == "__main__":
    main()
