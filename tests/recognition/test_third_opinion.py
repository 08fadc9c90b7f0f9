"""A third opinion: how texts are written for it, how the opinion counts, and that its network says what it should.

References: the library that the weights are made for (CTranslate2, `Whisper.align`) for the probability of each piece;
the list of pieces in the weights' own `vocabulary.txt`; the mel scale after M. Slaney, "Auditory Toolbox", Interval
Research 1998-010 (from memory): straight below 1 kHz, 200/3 Hz a mel.
"""

import math
from collections.abc import Sequence
from pathlib import Path

import pytest

from handsfree.errors import ModelError
from handsfree.model.commands import Wanted
from handsfree.model.graph import Arc, WordGraph
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.candidates import Candidate, SearchOutcome
from handsfree.recognition.choose import THIRD_MODEL
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.models import locate
from handsfree.recognition.neural_decoder import EncodedUtterance
from handsfree.recognition.opinion import Opinion
from handsfree.recognition.plain_text import plain_text
from handsfree.recognition.rescoring import THIRD_SHARE, Judgement, with_third
from handsfree.recognition.routing import KINDS, choice, kind_of
from handsfree.session.listening_context import HEARD, warmth_slot
from handsfree.session.modes import Mode
from handsfree.understanding.listening_graph import graph_for

np = pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")

from handsfree.recognition.general_network import COMMON, Encoding, GeneralNetwork  # noqa: E402
from handsfree.recognition.neural_engine import BOTH, THREE, NeuralEngine  # noqa: E402
from handsfree.recognition.spectrogram import spectrogram  # noqa: E402
from handsfree.recognition.third_opinion import ThirdOpinion  # noqa: E402

GRAPH = WordGraph(0, frozenset({1}), (Arc(0, 1, "four", ("digit:4",)), Arc(0, 1, "stop", ("control:stop",))), 2)
SEGMENT = Segment(b"\0\0" * 16000, 0.5, 1.0, 0.5, 0.4, 20.0)


@pytest.mark.parametrize(
    ("words", "text"),
    [
        ("one seven five", " one seven five"),
        ("fower point tree", " four point three"),
        ("alfa xray juliett", " alpha x-ray juliet"),
        ("Say again", " say again"),
        ("", ""),
    ],
)
def test_a_sentence_is_written_as_it_is_said(words: str, text: str) -> None:
    assert plain_text(words.split()) == text


def found(word: str, tag: str, logprob: float, piece: int) -> Candidate:
    return Candidate(logprob, (Arc(0, 1, word, (tag,)),), logprob, (piece,))


FOUR, FIVE, SIX = (found(word, f"digit:{word}", -1.0 - place, place) for place, word in enumerate(("4", "5", "6")))


def test_an_opinion_may_turn_the_order_and_what_nobody_asked_about_stays_as_far_behind() -> None:
    ranked = [(FOUR, -1.0), (FIVE, -1.5), (SIX, -4.0)]
    turned = with_third(ranked, (FOUR, FIVE), (Opinion(-6.0, 3.0, 0.0), Opinion(-2.0, 0.0, 0.0)))
    assert [text for text, _ in turned] == [FIVE, FOUR, SIX]
    assert dict(turned)[FOUR] - dict(turned)[SIX] == pytest.approx(3.0)
    assert dict(turned)[FIVE] - dict(turned)[FOUR] == pytest.approx(-0.5 + THIRD_SHARE * 4.0)


class Two:
    """Both first sets of weights: one finds what it is given, the other finds all of it as likely."""

    name = "fake"

    def __init__(self, texts: tuple[Candidate, ...]) -> None:
        self.texts = texts

    def prepare(self, graph: WordGraph) -> None:
        pass

    def encode(self, pcm: bytes) -> EncodedUtterance:
        return EncodedUtterance(np.zeros((1, 1, 1), np.float32), 1.0)

    def search(
        self, heard: EncodedUtterance, graph: WordGraph, speech_s: float, watched: WordGraph | None = None
    ) -> SearchOutcome:
        return SearchOutcome(self.texts, [], -0.5)

    def judge(self, heard: EncodedUtterance, candidates: Sequence[Candidate]) -> list[Judgement]:
        return [Judgement(text.logprob, float(text.tokens[0]), 0.0) for text in candidates]

    def write(self, heard: EncodedUtterance) -> str:
        return ""

    def text(self, tokens: list[int]) -> str:
        return ""


class Third:
    def __init__(self, *opinions: Opinion) -> None:
        self.opinions = opinions
        self.asked: list[tuple[str, ...]] = []
        self.heard = 0

    def hear(self, pcm: bytes) -> Encoding:
        self.heard += 1
        return Encoding(np.zeros((1, 1), np.float32), np.zeros((1, 1), np.float32))

    def judge(self, heard: Encoding, sentences: Sequence[Sequence[str]]) -> list[Opinion]:
        self.asked += [tuple(words) for words in sentences]
        return list(self.opinions)


def hear(texts: tuple[Candidate, ...], third: Third | None, use: str = "three") -> Hypothesis:
    both = Two(texts)
    return NeuralEngine(both, both, dict.fromkeys(KINDS, use), third).recognise(SEGMENT, GRAPH)


def test_the_opinion_stands_beside_what_was_heard() -> None:
    third = Third(Opinion(-9.0, 3.0, 1.0), Opinion(-1.0, 0.5, 0.25))
    heard = hear((FOUR, FIVE), third)
    assert (heard.words, heard.runner_up, heard.engine) == (("5",), ("4",), THREE)
    assert third.asked == [("4",), ("5",)]
    evidence = heard.evidence
    assert evidence is not None
    assert (evidence.third_margin, evidence.third_gap, evidence.third_end_gap) == (8.0, 0.5, 0.25)
    # The judgement of the second weights is that of the text that came first in the end.
    assert evidence.second_free_gap == 1.0


def test_a_number_without_a_rival_has_no_margin_to_one() -> None:
    heard = hear((FOUR,), Third(Opinion(-1.0, 0.5, 0.25)))
    assert heard.evidence is not None
    assert heard.evidence.third_margin == math.inf


def test_without_the_third_weights_all_is_as_with_two() -> None:
    assert hear((FOUR, FIVE), None) == hear((FOUR, FIVE), None, "both")
    assert hear((FOUR, FIVE), None).engine == BOTH


def test_words_are_asked_about_too() -> None:
    stop, up = found("stop", "control:stop", -1.0, 7), found("up", "option:up", -1.5, 8)
    heard = hear((stop, up), Third(Opinion(-6.0, 4.0, 0.0), Opinion(-1.0, 0.5, 0.0)))
    assert (heard.words, heard.engine) == (("up",), THREE)
    assert heard.evidence is not None
    assert (heard.evidence.third_margin, heard.evidence.third_gap) == (5.0, 0.5)


def test_numbers_commands_and_findings_are_asked_about_but_nothing_that_may_be_a_cry() -> None:
    use = choice()
    assert [kind for kind in KINDS if use[kind] == "three"] == ["figures", "words"]
    assert kind_of(graph_for(Wanted(HEARD[Mode.LIT], (warmth_slot(),)))) == "cries"


def test_nobody_is_asked_where_two_are_enough() -> None:
    third = Third()
    hear((FOUR,), third, "both")
    assert (third.heard, third.asked) == (0, [])


def test_a_tone_stands_in_its_band() -> None:
    # 1 kHz is 15 mel of this scale, 8 kHz 45.25: with 81 steps from 0, band 25.85 - so between the 25th and the 26th.
    tone = np.sin(2 * np.pi * 1000 * np.arange(16000) / 16000).astype(np.float32)
    columns = spectrogram(tone, 200)
    assert columns.shape == (80, 200)
    assert int(columns[:, 50].argmax()) in (25, 26)
    # Nothing is more than 80 dB under the loudest, (8 + 4 - 4) / 4 below it.
    assert float(columns.max() - columns[:, 150].max()) == pytest.approx(2.0)


@pytest.fixture(scope="module")
def folder() -> Path:
    try:
        return locate(THIRD_MODEL)
    except ModelError as error:
        pytest.skip(str(error))


@pytest.fixture(scope="module")
def third(folder: Path) -> ThirdOpinion:
    try:
        return ThirdOpinion(folder)
    except ModelError as error:
        pytest.skip(str(error))


@pytest.mark.sound
def test_pieces_are_those_of_the_list(third: ThirdOpinion, folder: Path) -> None:
    known = (folder / "vocabulary.txt").read_text(encoding="utf-8").split("\n")
    for text in (" 1, 7, 5.", " Zone 12", " don't"):
        pieces = third._pieces.pieces(text)
        assert "".join(known[piece] for piece in pieces).replace("\u0120", " ") == text
        assert third._pieces.text(list(pieces)) == text.strip()
    # The longest piece that begins a text is taken where pairs are merged to it.
    assert [known[piece] for piece in third._pieces.pieces(" seven")] == ["\u0120seven"]


@pytest.mark.sound
def test_pieces_are_as_likely_as_the_library_finds_them(third: ThirdOpinion, spoken) -> None:
    ctranslate2 = pytest.importorskip(
        "ctranslate2", reason="ctranslate2 is not installed: pip install handsfree[speech]"
    )
    heard = third.hear(spoken("one seven five"))
    # The last holds a piece that is no common one.
    texts = [third._pieces.pieces(text) for text in (" one seven five", " one seven", " centimeters")]
    assert max(texts[-1]) >= COMMON
    network: GeneralNetwork = third._network
    features = ctranslate2.StorageView.from_array(np.ascontiguousarray(np.repeat(heard.columns[None], len(texts), 0)))
    aligned = network._model.align(features, [50257], [list(text) for text in texts], heard.columns.shape[1])
    # The library divides the probability among all pieces but leaves the end out, which has little in the middle of a
    # text; what the rarer pieces have is little too. It computes in 8-bit numbers.
    for scores, reference in zip(network.score(heard, texts)[:2], aligned[:2], strict=True):
        assert scores.own[:-1] == pytest.approx(np.log(np.maximum(reference.text_token_probs, 1e-12)), abs=0.35)
    for scores in network.score(heard, texts):
        assert (scores.own <= scores.best + 1e-5).all()


@pytest.mark.sound
def test_a_lost_last_digit_shows_where_the_text_ends(third: ThirdOpinion, spoken) -> None:
    whole, cut = third.judge(third.hear(spoken("one seven five")), [("one", "seven", "five"), ("one", "seven")])
    assert whole.logprob > cut.logprob + 2.0
    assert cut.end_gap > whole.end_gap + 2.0


@pytest.mark.sound
def test_it_writes_what_is_said(third: ThirdOpinion, spoken) -> None:
    text = third.write(spoken("We have to look at the hand again."))
    assert text == "we have to look at the hand again"


@pytest.mark.sound
def test_no_words_are_written_for_no_speech(third: ThirdOpinion) -> None:
    noise = np.random.default_rng(1).normal(0, 300, 32000).astype("<i2").tobytes()
    assert third.write(noise) == ""
    nothing, word = third.judge(third.hear(noise), [(), ("stop",)])
    assert nothing.logprob > word.logprob + 2.0


def test_weights_that_cannot_be_read_are_named(tmp_path: Path) -> None:
    pytest.importorskip("ctranslate2", reason="ctranslate2 is not installed: pip install handsfree[speech]")
    (tmp_path / "model.bin").write_bytes(b"nothing")
    with pytest.raises(ModelError, match="models verify"):
        GeneralNetwork(tmp_path)
