"""Which of the collected ways of saying are understood: ``python -m tests.bench.ways``.

Every one of `tests.ears.pilots.PILOTS`, spoken by three voices that nothing was tuned on, in quiet.
``--text`` asks the grammars alone, without a voice; ``--spoken FOLDER`` keeps what is spoken.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

from coach.ears.grammar import Meaning
from coach.ears.utterance import Utterance
from tests.bench.ears.samples import recording
from tests.ears.listening import listen
from tests.ears.pilots import PILOTS, Way
from tests.ears.speakers import FRESH, keep_in, missing
from tests.ears.wordings import paused

VOICES = tuple(one for one in FRESH if one[0] in ("piper joe", "nano en-GB", "nano en-US"))
AT_ONCE = 40
"""So many ways in one recording."""


class Paused:
    """A way as a voice speaks it."""

    def __init__(self, way: Way) -> None:
        self.way = way
        self.words = paused(way.words)
        self.grammar = way.grammar


def spoken(voice: str, rate: int, ways: Sequence[Way]) -> Iterator[tuple[Way, str, bool]]:
    """Each way, what was heard of it, and whether that is what is meant, all of it and no more."""
    for first in range(0, len(ways), AT_ONCE):
        some = {number: Paused(way) for number, way in enumerate(ways[first : first + AT_ONCE])}
        sound = recording(voice, rate, some, "quiet")
        heard = listen(sound.sound, sound.expected)
        for place, one in some.items():
            found = [each for each in heard if each.expected == place]
            words = " + ".join(each.words for each in found) or "nothing"
            yield one.way, words, _is_meant(one.way, [_meaning(one, each) for each in found])


def _meaning(one: Paused, heard: Utterance) -> Meaning:
    return one.grammar.parse(heard.words) or Meaning()


def _is_meant(way: Way, meant: Sequence[Meaning]) -> bool:
    values = {asked: value for one in meant for asked, value in one.values.items()}
    names = {name for one in meant for name in one.names}
    return values == dict(way.means) and names == ({way.name} if way.name else set())


def _by_text() -> None:
    lost = [
        one for one in PILOTS if not _is_meant(one, [one.grammar.parse(one.words) or Meaning()])
    ]
    for way in lost:
        print(f"not in its grammar: {_told(way)}")
    print(
        f"{len(PILOTS) - len(lost)} of {len(PILOTS)} ways are in their grammars and mean the same"
    )


def _told(way: Way) -> str:
    numbers = ", ".join(f"{asked} {value:g}" for asked, value in way.means.items())
    return f"“{way.words}” ({', '.join(filter(None, (way.name, numbers)))}; {way.source})"


def main() -> None:
    """Say all of them."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.ways", description=__doc__)
    parser.add_argument("--spoken", type=Path, help="the folder of what was spoken")
    parser.add_argument("--every", type=int, default=1, help="only each so-manieth way")
    parser.add_argument("--text", action="store_true", help="only ask the grammars")
    asked = parser.parse_args()
    if asked.text:
        _by_text()
        return
    ways = PILOTS[:: asked.every]
    lost: dict[int, dict[str, str]] = {}
    with tempfile.TemporaryDirectory() as folder:
        keep_in(asked.spoken or Path(folder))
        for voice, rate in VOICES:
            if reason := missing(voice):
                print(f"{voice} is left out: {reason} is not installed")
                continue
            found = [*spoken(voice, rate, ways)]
            for number, (_, words, meant) in enumerate(found):
                if not meant:
                    lost.setdefault(number, {})[voice] = words
            print(f"{voice}: {sum(meant for *_, meant in found)} of {len(found)}", flush=True)
    for number, heard in sorted(lost.items(), key=lambda one: -len(one[1])):
        told = "; ".join(f"{voice} “{words}”" for voice, words in heard.items())
        print(f"{_told(ways[number])}: {told}")


if __name__ == "__main__":
    main()
