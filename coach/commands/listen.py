"""``coach listen``."""

from __future__ import annotations

import time

import click

from coach import settings
from coach.commands.saying import say
from coach.ears.cost import Cost
from coach.ears.ears import Ears
from coach.ears.fitting import Fitting, fitted
from coach.ears.levels import Level
from coach.ears.source import MUTE, Deaf, open_microphone
from coach.ears.trial import QUIET_S, SAMPLES, SPEAK_S, Sample, loudness_db, trial
from coach.ears.utterance import NOISE, Utterance
from coach.problems import Problem


@click.command()
@click.option("--microphone", metavar="NAME", help="Which one.  [the usual one]")
def listen(microphone: str | None) -> None:
    """Whether this microphone in this room will do: a minute of being quiet and of saying words.

    What your voice needs there is kept, and used whenever you rehearse; coach settings listening=
    forgets it.
    """
    try:
        source = open_microphone(microphone)
    except Deaf as deaf:
        raise Problem(f"{deaf.said}.") from None
    cost = Cost()
    with Ears(source) as heard:
        heard.wait()
        cost.ready()
        if heard.deaf:
            raise Problem(f"{heard.deaf}.")
        say(f"{source.name} listens, for {heard.told}.")
        say(f"Be quiet for {QUIET_S:.0f} seconds ...")
        heard.levels()
        time.sleep(QUIET_S)
        quiet = _still_there(heard, heard.levels())
        spoken: list[Level] = []
        understood = 0
        for number, line in enumerate(SAMPLES, 1):
            say(f"Say ({number} of {len(SAMPLES)}): {line.words}")
            got, levels = _heard(heard, line)
            spoken += _still_there(heard, levels)
            # A microphone that takes noise away is quite silent until somebody speaks.
            if not any(level.power for level in (*quiet, *spoken)):
                raise Problem(f"{MUTE}.")
            understood += got is not None and line.is_understood(got.words)
            say(f"  {_made_of(got, line, levels)}")
    found = trial(quiet, spoken, understood, len(SAMPLES))
    say(
        f"Noise {found.floor_db:.0f} dB, your voice {found.speech_db:.0f} dB of full scale: it "
        f"stands out by {found.stands_out_db:.0f} dB."
    )
    say(cost.told)
    if understood:  # else nobody knows that it was the student's voice
        say(_kept(source.name, fitted(quiet, spoken)))
    say(found.verdict)


def _kept(microphone: str, fits: Fitting) -> str:
    """Keep what the student's voice needs here; what became of it, in a sentence."""
    fitting = settings.Fitted(begins=fits.begins_db, goes_on=fits.goes_on_db)
    settings.fit(microphone, fitting)
    return (
        f"Fitted to your voice: at this microphone it is heard from {fits.begins_db:.2g} dB above "
        f"the noise on, usual is {Fitting().begins_db:.2g} dB; coach settings listening= forgets "
        "it."
    )


def _made_of(got: Utterance | None, line: Sample, levels: list[Level]) -> str:
    """What was made of the student's words, how sure, and how loud they were."""
    loud = f"at {loudness_db(levels):.0f} dB"
    if got is None:
        return f"heard: nothing, {loud}"
    words = got.words or "something that no words fit"
    right = "" if line.is_understood(got.words) else "  (not that)"
    return f"heard: {words}, {got.sure:.0%} sure, {loud}{right}".replace("%", " %")


def _still_there(ears: Ears, levels: list[Level]) -> list[Level]:
    """The levels.

    Raises:
        Problem: the microphone is gone, or gives no sound.
    """
    if ears.deaf or not levels:
        raise Problem(f"{ears.deaf or 'The microphone gives no sound'}.")
    return levels


def _heard(ears: Ears, line: Sample) -> tuple[Utterance | None, list[Level]]:
    """What was understood while a line was to be said, and how loud it was."""
    number = ears.expect(line.grammar, time.perf_counter())
    until = time.perf_counter() + SPEAK_S
    best: Utterance | None = None
    while time.perf_counter() < until and not ears.deaf:
        time.sleep(0.05)
        for one in ears.utterances():
            if one.expected == number and (best is None or one.sure > best.sure):
                best = one
        if best is not None and best.sure >= NOISE:
            break  # what is less sure may be a cough before the words
    return best, ears.levels()
