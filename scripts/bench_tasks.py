"""Grammars with meanings, and engines to compare, for the recognition benches."""

from collections.abc import Iterable
from dataclasses import dataclass
from dataclasses import replace as changed
from decimal import Decimal
from functools import partial
from itertools import groupby
from pathlib import Path

from handsfree.errors import UsageError
from handsfree.model.commands import (
    Command,
    Control,
    GiveValues,
    IdentifierSlot,
    NumberSlot,
    OptionPhrases,
    OptionSlot,
    SlotValue,
    Wanted,
)
from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import Ambiguous, NeedsAsking, Option, Refused
from handsfree.recognition.choose import THIRD_MODEL, TUNED_MODEL, make_engine, make_recognizer
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.engine import Engine, nothing_heard
from handsfree.recognition.models import locate
from handsfree.recognition.neural_decoder import NeuralDecoder
from handsfree.recognition.neural_engine import BASE, TUNED, NeuralEngine
from handsfree.recognition.port import Recognizer
from handsfree.recognition.routing import KINDS, choice
from handsfree.recognition.third_opinion import ThirdOpinion
from handsfree.recognition.utterance_recognizer import UtteranceRecognizer
from handsfree.understanding.acceptance import DecisionOutcome, decide
from handsfree.understanding.bundled_grammars import grammars_for
from handsfree.understanding.completeness import is_unfinished
from handsfree.understanding.graphs import compile_graph, compile_smallest
from handsfree.understanding.graphs import match as match_words
from handsfree.understanding.interpreter import interpret
from handsfree.understanding.jsgf import (
    NULL,
    Choice,
    Expansion,
    Grammars,
    Reference,
    Sequence,
    Tagged,
    Word,
    optional,
    parse,
)
from handsfree.understanding.listening_graph import graph_for
from handsfree.understanding.typed_text import spoken_forms

ENGINES = ("neural", "neural-both", "neural-free", "general-free", "pocketsphinx", "pocketsphinx-plain")
"""The default engine; the same without a third opinion; the plain use of its weights, and of the third ones (free text,
matched against the grammar); the light engine, and the plain use of that (its grammar search as documented, every
result taken)."""
GRAMMARS = ("digits", "reading", "identifier", "control", "commands", "words", "numbers")
"""All commands are "control" where cries of heat and pain count, and else "commands"."""
WEIGHTS = "neural:"
"""Before the folder of other weights for the neural engine, which need not be installed."""
BOTH = "both:"
"""The same, for weights that search while the installed default ones judge."""
OTHER = "<other>"
SHORT_WORDS = ("yes", "no", "up", "down", "left", "right", "on", "off", "stop", "go")
LONGEST_STRING = 16
_SCALES = {"hundred": 100, "thousand": 1000, "million": 1_000_000}
_NUMBER_TAGS = frozenset({"digit", "teen", "tens", "and", *_SCALES})


@dataclass(frozen=True)
class Task:
    """What is listened for and how it is understood.

    Attributes:
        graph: What may be said.
        wanted: What is legal, for `interpret`; None where the grammar has no commands: the tags or words then count.
    """

    graph: WordGraph
    wanted: Wanted | None

    def attend(self, recognizer: Recognizer) -> None:
        """Let it be listened for as a visit does, which waits for more of a reading that is not whole."""
        recognizer.listen_for(self.graph, None if self.wanted is None else partial(is_unfinished, wanted=self.wanted))

    def command(self, hypothesis: Hypothesis) -> Command | None:
        """What was meant."""
        if not hypothesis.words:
            return None
        if self.wanted is not None:
            return interpret(hypothesis, self.wanted)
        meaning = figures(hypothesis.tags) or hypothesis.words
        return GiveValues((SlotValue("said", Option(" ".join(meaning))),))

    def expected(self, spoken: str) -> Command | None:
        """What the words of a manifest mean, or None if the grammar does not hold them."""
        words = tuple(spoken.lower().replace(",", " ").split())
        for form in (words, tuple("xray" if word == "x-ray" else word for word in words)):
            found = match_words(self.graph, form) if form else None
            if found is not None:
                return self.command(Hypothesis(form, found.tags, 0.0, 0.0, "manifest"))
        return None

    def outcome(self, hypothesis: Hypothesis, command: Command) -> DecisionOutcome:
        """What the product would do; a value that is itself a question counts as asked."""
        outcome = decide(hypothesis, command, self.wanted or Wanted()).outcome
        return DecisionOutcome.ASK if outcome is DecisionOutcome.ACCEPT and is_question(command) else outcome


def figures(tags: tuple[str, ...]) -> tuple[str, ...]:
    """Tags with numbers as they are written, "21" "40" and "2" "1" "4" "0" both as the figures 2 1 4 0."""
    result: list[str] = []
    for numeric, run in groupby(tags, key=lambda tag: tag.partition(":")[0] in _NUMBER_TAGS):
        said = tuple(run)
        result += _figures(said) if numeric else said
    return tuple(result)


def _figures(run: Iterable[str]) -> str:
    """Words are added up where the one before left room for them ("two hundred" "five"), and else stand in turn."""
    text, total, part, room, begun = "", 0, 0, 0, False
    for tag in run:
        kind, _, number = tag.partition(":")
        if kind in _SCALES and begun:
            total, part = (total, part * 100) if kind == "hundred" else (total + part * _SCALES[kind], 0)
            room = _SCALES[kind]
        elif number:
            value = int(number)
            if not value or room <= value:
                text += str(total + part) if begun else ""
                total, part = 0, 0
            part += value
            room, begun = (10 if kind == "tens" else 1), True
    return text + (str(total + part) if begun else "")


def is_question(command: Command) -> bool:
    """Whether it holds a value that the session asks about or refuses whatever the score."""
    return isinstance(command, GiveValues) and any(
        isinstance(item.value, Ambiguous | NeedsAsking | Refused) for item in command.values
    )


def task_for(name: str, digits: int | None = None) -> Task:
    """A built-in grammar or a JSGF file.

    Args:
        name: One of `GRAMMARS`, or a path; the first public rule of the file counts.
        digits: For "digits": the largest number of digits that a reading has, where the step knows it.

    Raises:
        GrammarError: The file has faults.
    """
    match name:
        case "digits":
            wanted = Wanted(slots=(IdentifierSlot("code", (), max_length=digits or LONGEST_STRING),))
            return Task(_digit_strings(digits or LONGEST_STRING), wanted)
        case "reading":
            slot = NumberSlot("reading", (), "cm", Decimal(0), Decimal(999), decimals=1)
            return _product(Wanted(slots=(slot,)))
        case "identifier":
            return _product(Wanted(slots=(IdentifierSlot("code", ()),)))
        case "control":
            return _product(Wanted(controls=frozenset(Control)))
        case "commands":
            return _product(Wanted(controls=frozenset(Control) - {Control.CRY}))
        case "words":
            return _words_alone()
        case "numbers":
            return Task(compile_graph(Reference("strings.numbers"), grammars_for()), None)
        case _:
            return _from_file(Path(name))


def _product(wanted: Wanted) -> Task:
    return Task(graph_for(wanted), wanted)


def _digit_strings(most: int) -> WordGraph:
    """One to `most` digits, zero also as "oh"; the code slot's tag in front."""
    digit = Choice((Reference("numbers.digit"), Reference("numbers.oh")))
    rest: Expansion = NULL
    for _ in range(most - 1):
        rest = optional(Sequence((digit, rest)))
    named = Tagged(NULL, ("slot:code",))
    return compile_smallest(Sequence((named, digit, rest)), grammars_for())


def _words_alone() -> Task:
    """Only the ten words; the commands that the product always listens for are left out, "stop" being one of both."""
    options = tuple(OptionPhrases(word, (word,)) for word in SHORT_WORDS)
    wanted = Wanted(slots=(OptionSlot("word", (), options, allow_absent=False),))
    words = Choice(tuple(Tagged(Word(word), (f"option:{word}",)) for word in SHORT_WORDS))
    return Task(compile_graph(Sequence((Tagged(NULL, ("slot:word",)), words)), grammars_for()), wanted)


def _from_file(path: Path) -> Task:
    """Every public rule of a JSGF file. Where all of them are commands of the product, they are taken as such."""
    if not path.is_file():
        raise UsageError(f"{path}: no such grammar (built in: {', '.join(GRAMMARS)}; or a JSGF file)")
    grammar = parse(path.read_text(encoding="utf-8"), str(path))
    public = tuple(Reference(f"{grammar.name}.{rule.name}") for rule in grammar.rules.values() if rule.public)
    graph = compile_graph(Choice(public), Grammars((grammar,)), grammar.name)
    commands = all(tag.startswith("control:") for arc in graph.arcs for tag in arc.tags) and any(
        arc.tags for arc in graph.arcs
    )
    return Task(graph, Wanted(controls=frozenset(Control)) if commands else None)


class Plain(Engine):
    """An engine used plainly: whatever it returns is taken.

    Args:
        engine: The engine.
        task: Grammar that its text is matched against, or None to use its own search of the grammar.
    """

    def __init__(self, engine: Engine, task: Task | None) -> None:
        self._engine = engine
        self._task = task

    @property
    def name(self) -> str:
        """See `Engine.name`."""
        return f"{self._engine.name}-plain"

    def prepare(self, graph: WordGraph) -> None:
        """See `Engine.prepare`."""
        if self._task is None:
            self._engine.prepare(graph)

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        """See `Engine.recognise`."""
        if self._task is None:
            heard = self._engine.recognise(segment, graph)
            return changed(heard, evidence=None) if heard.words else heard
        text = self._engine.write_down(segment.pcm)
        for words in spoken_forms(text, self._task.wanted or Wanted()):
            found = match_words(graph, words)
            if found is not None:
                times = segment.speech_from_s, segment.speech_to_s
                return Hypothesis(words, found.tags, *times, self.name, free_text=text)
        return nothing_heard(segment, self.name, text)

    def write_down(self, pcm: bytes) -> str:
        """See `Engine.write_down`."""
        return self._engine.write_down(pcm)


class Writer(Engine):
    """The third weights as an engine that only writes.

    Raises:
        ModelError: They are not installed.
    """

    name = "general"

    def __init__(self) -> None:
        self._weights = ThirdOpinion(locate(THIRD_MODEL))

    def prepare(self, graph: WordGraph) -> None:
        """See `Engine.prepare`."""

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:  # noqa: ARG002 - it knows no graph
        """See `Engine.recognise`."""
        return nothing_heard(segment, self.name, self.write_down(segment.pcm))

    def write_down(self, pcm: bytes) -> str:
        """See `Engine.write_down`."""
        return self._weights.write(pcm)


def recognizer_for(engine_id: str, task: Task) -> Recognizer:
    """The recogniser of an identifier: one of `ENGINES`, of the product's engines, or `WEIGHTS` or `BOTH` and a folder.

    Raises:
        ModelError: Its weights or packages are not installed.
        UsageError: There is no such engine.
    """
    match engine_id:
        case "neural-free":
            return UtteranceRecognizer(Plain(make_engine("neural"), task))
        case "general-free":
            return UtteranceRecognizer(Plain(Writer(), task))
        case "neural-both":
            tuned = NeuralDecoder(locate(TUNED_MODEL), TUNED)
            return UtteranceRecognizer(NeuralEngine(NeuralDecoder(locate(), BASE), tuned, choice()))
        case "pocketsphinx-plain":
            return UtteranceRecognizer(Plain(make_engine("pocketsphinx"), None))
        case _ if engine_id.startswith(WEIGHTS):
            return UtteranceRecognizer(NeuralEngine(NeuralDecoder(Path(engine_id.removeprefix(WEIGHTS)), BASE)))
        case _ if engine_id.startswith(BOTH):
            tuned = NeuralDecoder(Path(engine_id.removeprefix(BOTH)), TUNED)
            use = dict.fromkeys(KINDS, "both")
            return UtteranceRecognizer(NeuralEngine(NeuralDecoder(locate(), BASE), tuned, use))
        case _:
            return make_recognizer(engine_id)
