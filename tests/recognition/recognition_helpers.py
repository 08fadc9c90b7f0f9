"""Sound, graphs and stand-ins for the tests of recognition."""

import math
from array import array
from collections.abc import Iterator
from itertools import pairwise

from handsfree.model.audio import BLOCK_SAMPLES, SAMPLE_RATE_HZ, AudioBlock
from handsfree.model.graph import Arc, WordGraph
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.recognition.automaton import Automaton, Place
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.tokens import Vocabulary

LETTERS = "abcdefghijklmnopqrstuvwxyz0123456789 .,!?;:-–−'%°/½"
SPARE = [b""] * 259
LETTER_PIECES = Vocabulary([*SPARE, *(letter.encode() for letter in LETTERS)])


def blocks_of(pcm: bytes, start_s: float = 0.0, samples: int = BLOCK_SAMPLES) -> Iterator[AudioBlock]:
    """Cut sound into blocks."""
    size = 2 * samples
    for at in range(0, len(pcm), size):
        yield AudioBlock(pcm[at : at + size], start_s + at / 2 / SAMPLE_RATE_HZ)


def silence(seconds: float) -> bytes:
    return bytes(2 * round(seconds * SAMPLE_RATE_HZ))


def tone(seconds: float, amplitude: int = 8000, pitch: float = 0.2) -> bytes:
    """A sine of so many radians a sample."""
    count = round(seconds * SAMPLE_RATE_HZ)
    return array("h", (round(amplitude * math.sin(pitch * n)) for n in range(count))).tobytes()


def soft(seconds: float) -> bytes:
    """Sound that `LoudnessDetector` notices after louder sound only, but takes for speech then."""
    return tone(seconds, amplitude=500)


def murmur(seconds: float) -> bytes:
    """Sound too soft for `LoudnessDetector`, with a level that can be measured."""
    return tone(seconds, amplitude=80)


class LoudnessDetector:
    """Takes anything loud for speech, and is not sure of what is softer; it gets all sound 12 dB louder."""

    def __call__(self, audio: bytes) -> float:
        loudest = max(array("h", audio))
        return 0.9 if loudest > 4000 else 0.3 if loudest > 1000 else 0.05

    def reset(self) -> None:
        pass


def missed(seconds: float, amplitude: int = 10000) -> bytes:
    """A word that `HalfDeaf` takes for no speech at all."""
    return tone(seconds, amplitude, pitch=0.4)


class HalfDeaf(LoudnessDetector):
    """Hears loud sound of a low pitch alone."""

    def __call__(self, audio: bytes) -> float:
        samples = array("h", audio)
        steepest = max(abs(later - sample) for sample, later in pairwise(samples))
        return 0.9 if max(samples) > 4000 and steepest < max(samples) / 3 else 0.0


class PitchEngine:
    """A stand-in engine: hears the graph's first sentence, or nothing in soft sound.

    In a graph that has several stop words and nothing else it is not sure of any.
    """

    name = "pitch"

    def prepare(self, graph: WordGraph) -> None:
        assert graph.arcs

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        words: list[str] = []
        tags: list[str] = []
        state = graph.start
        while state not in graph.finals or not words:
            arc = next(arc for arc in graph.arcs if arc.source == state)
            words += [arc.word] if arc.word is not None else []
            tags += arc.tags
            state = arc.target
        stops = {"control:stop", "control:light_off"}
        starts = sum(arc.source == graph.start for arc in graph.arcs)
        unsure = starts > 1 and all(stops.issuperset(arc.tags) for arc in graph.arcs)
        return Hypothesis(
            tuple(words),
            tuple(tags),
            segment.speech_from_s,
            segment.speech_to_s,
            self.name,
            Evidence(-0.1, 20.0 if unsure else 0.0, 9.0, segment.speech_s, segment.signal_to_noise_db),
            free_text="a tone",
            clip=segment.pcm,
        )

    def write_down(self, pcm: bytes) -> str:
        return "a tone" if any(pcm) else ""


def phrases(*options: tuple[str, str]) -> WordGraph:
    """A graph of whole phrases, each with a tag on its last word."""
    arcs: list[Arc] = []
    count = 2
    for text, tag in options:
        words = text.split()
        state = 0
        for word in words[:-1]:
            arcs.append(Arc(state, count, word))
            state, count = count, count + 1
        arcs.append(Arc(state, 1, words[-1], (tag,)))
    return WordGraph(0, frozenset({1}), tuple(arcs), count)


def read(automaton: Automaton, text: str) -> Hypothesis | None:
    """Send a text through, letter by letter; the cheapest reading."""
    here: dict[Place, tuple[float, tuple[Arc, ...]]] = {automaton.start: (0.0, ())}
    for letter in text:
        token = len(SPARE) + LETTERS.index(letter)
        there: dict[Place, tuple[float, tuple[Arc, ...]]] = {}
        for place, (cost, arcs) in here.items():
            for step in automaton.steps(place).get(token, ()):
                total = cost + step.cost
                if step.place not in there or total < there[step.place][0]:
                    there[step.place] = (total, arcs + step.arcs)
        here = there
    ends = [(cost, arcs + place.ending) for place, (cost, arcs) in here.items() if place.ending is not None]
    if not ends:
        return None
    arcs = min(ends, key=lambda end: end[0])[1]
    tags = tuple(tag for arc in arcs for tag in arc.tags)
    return Hypothesis(tuple(arc.word for arc in arcs if arc.word), tags, 0.0, 0.0, "test")
