"""Promises of the recogniser, with synthetic voices and the real thing behind them."""

from __future__ import annotations

import io
import json
import statistics
from dataclasses import replace

import numpy as np
import pytest

from coach.ears.grammar import answer, callout, orders
from coach.ears.own_voice import AFTER_S, OwnVoice
from coach.ears.segments import RATE
from coach.ears.trial import NEEDED, SAMPLES
from coach.ears.utterance import NOISE, SURE
from coach.flight.asked import right
from coach.taps.order import ORDERS
from tests.callouts.flown import flown

from .speakers import NOISES, OWN, chatter, noise, say
from .students import FOUND, THINKS_S, coach, lazy_eight, student

pytest.importorskip("pocketsphinx")

from .listening import listen, one_recogniser

FLIGHT = flown("lazy-eight")


def heard_alone(words: str, voice: str = "en-us") -> np.ndarray:
    sound = 0.0005 * noise("fan", 7 * RATE)
    said = say(words, voice)
    sound[2 * RATE : 2 * RATE + len(said)] += said
    return sound


def test_of_a_whole_asking_rehearsal_exactly_the_four_mistakes_are_reported() -> None:
    rehearsed = lazy_eight()
    heard = listen(student(rehearsed, "en-us", 175), rehearsed.expected())
    assert rehearsed.mistakes(heard) == FOUND
    waits = [one.hesitation_s for one in rehearsed.verdicts(heard) if one.hesitation_s is not None]
    assert len(waits) == 15
    assert statistics.median(waits) == pytest.approx(THINKS_S, abs=0.1)


def test_the_coach_itself_in_the_room_adds_no_mistake_and_hides_none() -> None:
    rehearsed = lazy_eight()
    room = student(rehearsed, "en-us", 175) + coach(rehearsed)
    own = OwnVoice(rehearsed.sheet, lambda at: at)
    for at in range(0, len(room), RATE // 20):
        if own(at / RATE):
            room[at : at + RATE // 20] = np.nan
    assert rehearsed.mistakes(listen(room, rehearsed.expected())) == FOUND


def test_the_microphone_is_closed_while_the_coach_speaks_and_open_in_its_gaps() -> None:
    rehearsed = lazy_eight()
    own = OwnVoice(rehearsed.sheet, lambda at: at - 100.0)
    for cue in rehearsed.sheet.cues:
        if cue.phrase is not None:
            assert own(100.0 + cue.start_s) and own(100.0 + cue.end_s - 0.01)
        if cue.gap_s:
            assert not own(100.0 + cue.end_s + AFTER_S + 0.01)


def test_a_name_called_out_is_heard_where_it_begins() -> None:
    grammar = callout(FLIGHT.moments, 2)
    sound = heard_alone("one thirty five, pitch six below level, bank fifteen")
    (one,) = listen(sound, [(0.0, grammar)])
    said = grammar.parse(one.words)
    assert said is not None and said.names == ("135",), one.words
    assert grammar.is_right(said) and {*said.values} == {"pitch", "bank"}, one.words
    assert one.start_s == pytest.approx(2.0, abs=0.1)
    assert one.sure > SURE


def test_push_to_talk_hears_what_follows_a_press() -> None:
    grammar = answer(FLIGHT.moments, 1)
    sound = heard_alone("sixty three knots, bank thirty")
    assert [one.words for one in listen(sound, [(0.0, grammar)], pushes_s=[1.5])] == [
        "sixty three knots bank thirty"
    ]
    assert listen(sound, [(0.0, grammar)], pushes_s=[60.0]) == []


def test_talk_about_something_else_is_seldom_taken_for_an_answer_or_a_callout() -> None:
    sound = chatter(20.0, "en-us+f2", 170)
    for grammar in (answer(FLIGHT.moments, 1), callout(FLIGHT.moments, 1)):
        heard = listen(sound, [(0.0, grammar)])
        assert sum(one.sure >= SURE and grammar.parse(one.words) is not None for one in heard) <= 1


def test_noise_alone_is_nothing() -> None:
    grammar = answer(FLIGHT.moments, 0)
    rough = 0.05 * np.random.default_rng(1).normal(size=10 * RATE).astype(np.float32)
    rough[: 5 * RATE] *= 0.05
    assert all(one.sure < NOISE for one in listen(rough, [(0.0, grammar)]))


def test_in_a_noisy_room_a_right_answer_is_at_worst_unclear() -> None:
    grammar = answer(FLIGHT.moments, 1)
    calm = heard_alone("sixty three knots, bank thirty")
    (plain,) = listen(heard_alone("sixty three knots, bank twenty"), [(0.0, grammar)])
    assert plain.words.endswith("bank twenty") and plain.sure > SURE
    for kind in NOISES:
        loud = (calm + 0.05 * noise(kind, len(calm))).astype(np.float32)
        for one in listen(loud, [(0.0, grammar)]):
            said = grammar.parse(one.words)
            assert said is not None and (grammar.is_right(said) or one.sure < SURE), (kind, one)


def test_a_plain_voice_in_a_quiet_room_passes_the_trial() -> None:
    heard = [listen(heard_alone(line.words), [(0.0, line.grammar)]) for line in SAMPLES]
    understood = sum(
        line.is_understood(one.words) for line, (one,) in zip(SAMPLES, heard, strict=True)
    )
    assert understood >= NEEDED


def test_the_coachs_own_voice_is_heard_as_well() -> None:
    moment = FLIGHT.moments[1]
    grammar = answer(FLIGHT.moments, 1)
    (one,) = listen(heard_alone("sixty three knots, bank thirty", OWN), [(0.0, grammar)])
    said = grammar.parse(one.words)
    assert said is not None and grammar.is_right(said) and {*said.values} == {*right(moment)}


def test_a_word_of_two_known_words_is_heard_and_one_without_a_sound_is_named() -> None:
    names = [replace(FLIGHT.moments[0], name=name) for name in ("abeam", "crosswind", "qzxv")]
    grammar = callout(names, 0)
    for light, word in ((False, "abeam"), (False, "crosswind"), (True, "crosswind")):
        heard = listen(heard_alone(word), [(0.0, grammar)], light=light)
        assert [one.words for one in heard] == [word]
    out = io.StringIO()
    grammar = callout([replace(names[0], name="zxqwv")], 0)
    one_recogniser(light=True)(out).take({**grammar.request, "since": 0.0})
    assert json.loads(out.getvalue()) == {"unknown": ["zxqwv"]}


def test_the_light_ears_tell_right_from_wrong_and_leave_alone_what_is_neither() -> None:
    grammar = answer(FLIGHT.moments, 1)
    for words, is_right in (
        ("sixty three knots, bank thirty", True),
        ("sixty three knots, bank twenty", False),
    ):
        (one,) = listen(heard_alone(words), [(0.0, grammar)], light=True)
        said = grammar.parse(one.words)
        assert said is not None and grammar.is_right(said) is is_right and one.sure > SURE, one
    talk = "The kettle is on the stove and the bread is still warm."
    for one in listen(heard_alone(talk), [(0.0, grammar)], light=True):
        assert one.sure < SURE, one


def test_orders_of_a_real_voice_are_understood() -> None:
    slot_s = 4.0
    sound = 0.0005 * noise("fan", round((slot_s * len(ORDERS) + 2.0) * RATE))
    for number, order in enumerate(ORDERS):
        said = say(f"coach {order}", "en-us", 165)
        at = round((slot_s * number + 1.0) * RATE)
        sound[at : at + len(said)] += said
    grammar = orders()
    found = [
        meant.order
        for one in listen(np.asarray(sound, np.float32), [(0.0, grammar)])
        if one.sure >= SURE and (meant := grammar.parse(one.words)) is not None
    ]
    assert found == list(ORDERS)
