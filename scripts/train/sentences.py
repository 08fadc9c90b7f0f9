"""What is said in the training speech: drawn from the bundled grammars and procedures, and ordinary sentences.

Every class of utterance that the product listens for has a share of its own, so that none is learned at the cost of
another. Isolated digits and strings of them are kept few on purpose: with few real speakers of digits, more of them
make a network sure of wrong ones.
"""

import random
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from pathlib import Path

from said import DIGIT_KIND, DIGITS, LETTERS, ONE_DIGIT, WORD_BY_WORD, Sentence, written

from handsfree.authoring.sample_phrases import phrases_of
from handsfree.authoring.step_contexts import Hearing, hearings
from handsfree.definition.loader import bundled_procedures, load_bundle
from handsfree.definition.plan import compile_procedure
from handsfree.model.commands import Control, DateSlot, Wanted
from handsfree.model.graph import Arc, WordGraph
from handsfree.recognition.plain_text import SPELLED
from handsfree.understanding.bundled_grammars import grammars_for
from handsfree.understanding.graphs import compile_graph
from handsfree.understanding.jsgf import Reference
from handsfree.understanding.listening_graph import graph_for

SHORT = (
    "yes no up down left right on off stop go bed bird cat dog happy house marvin sheila tree wow won't "
    "fire heaven fight ate fort wine mine line sick fixed hive fife tree nigh knight hero shoe true thrown "
    "own run fun sun door more"
).split()
"""Short words of open recordings, and words that sound like digits or commands and are none."""
BESIDE_STOP = (
    "top shop drop chop stock stopper stuff step steps stoop still start spot store story hat hut hit heart hood hop "
    "what heard height eat feet seat heed bun born barn bird turns band hurl heard herbs dirt her here's paint plain "
    "pane pin pen playing spin spain train wait weight warmer warm form worn storm later light lights lie out about "
    "how now our hour all oil off often stink string thing staying send stand scold cold told scaled score sort door "
    "four make take lake ate eight bake aim soap soak cot got not pot dot lot"
).split()
"""Words that may be taken for a stop word or a word of heat or pain and are none."""


def sentences(count: int, shares: dict[str, float], seed: int) -> list[Sentence]:
    """Draw sentences, each class by its share; none twice unless its class has no more.

    Args:
        count: How many.
        shares: Share of each class of `KINDS`, summing to 1.
        seed: Of chance.
    """
    found: list[Sentence] = []
    for kind, share in shares.items():
        # A seed of its own for each class: another share of one leaves the others as they are.
        chance = random.Random(f"{kind}{seed}")
        said: set[str] = set()
        for _ in range(round(share * count)):
            for _ in range(20):
                words = KINDS[kind](chance)
                if " ".join(words) not in said:
                    break
            said.add(" ".join(words))
            found.append(_spoken(kind, words, chance))
    random.Random(seed).shuffle(found)
    return found


def _spoken(kind: str, words: Sequence[str], chance: random.Random) -> Sentence:
    text = written(words)
    words = [word.replace("juliett", "juliet").replace("alfa", "alpha") for word in words]
    between = chance.choice((" ", " ", ", ", WORD_BY_WORD)) if kind in ("spelled", DIGIT_KIND) else " "
    return Sentence(kind, between.join(words), text)


@cache
def _steps() -> tuple[Hearing, ...]:
    found: dict[str, Hearing] = {}
    for name in bundled_procedures():
        bundle = load_bundle(name)
        for hearing in hearings(compile_procedure(bundle.procedure), bundle.device, bundle.light):
            if hearing.wanted.slots:
                found.setdefault(hearing.graph.key, hearing)
    return tuple(found.values())


class _Sampler:
    """Draws sentences from one graph; every word that may come next is as likely."""

    def __init__(self, graph: WordGraph) -> None:
        self._start, self._finals = graph.start, graph.finals
        self._ways: dict[int, list[Arc]] = {}
        for arc in graph.arcs:
            self._ways.setdefault(arc.source, []).append(arc)

    def draw(self, chance: random.Random, most: int = 8) -> tuple[list[str], list[str]]:
        """Words and tags of a sentence of at most so many words."""
        while True:
            state, words, tags = self._start, [], []
            while len(words) <= most:
                ways = self._ways.get(state, [])
                if state in self._finals and (not ways or chance.random() < 0.4):
                    return words, tags
                arc = chance.choice(ways)
                words.append(_as_written(arc.word or ""))
                tags += arc.tags
                state = arc.target


def _as_written(word: str) -> str:
    return SPELLED.get(word, word)


@cache
def _samplers() -> tuple[_Sampler, ...]:
    return tuple(_Sampler(step.graph) for step in _steps())


def _answer(chance: random.Random) -> Sequence[str]:
    sampler = chance.choice(_samplers())
    while True:
        words, tags = sampler.draw(chance)
        if not any(tag.startswith("control:") for tag in tags):
            return words


@cache
def _rule(name: str) -> _Sampler:
    return _Sampler(compile_graph(Reference(name), grammars_for()))


def _control(chance: random.Random) -> Sequence[str]:
    return _rule(f"controls.{chance.choice(sorted(Control)).value}").draw(chance)[0]


def _spelled(chance: random.Random) -> tuple[str, ...]:
    letters = chance.choice((1.0, 0.8, 0.6, 0.45))
    count = chance.choices(range(1, 8), (2, 3, 4, 5, 5, 3, 2))[0]
    code = [chance.choice(LETTERS) if chance.random() < letters else _digit(chance) for _ in range(count)]
    lead = chance.choice((("lot",), ("code",), ())) if chance.random() < 0.25 else ()
    return (*lead, *code)


def _digit(chance: random.Random) -> str:
    digit = chance.choice(DIGITS)
    return "niner" if digit == "nine" and chance.random() < 0.25 else digit


def _digit_string(chance: random.Random) -> tuple[str, ...]:
    count = chance.choices(range(1, 8), (3, 3, 5, 4, 2, 1, 1))[0]
    return tuple("oh" if (digit := chance.choice(DIGITS)) == "zero" and chance.random() < 0.2 else digit
                 for _ in range(count))  # fmt: skip


def _one_digit(chance: random.Random) -> tuple[str, ...]:
    return (chance.choice(DIGITS),)


def _reading(chance: random.Random) -> tuple[str, ...]:
    """A reading digit by digit, as the product asks for it."""
    whole = [chance.choice(DIGITS) for _ in range(chance.choice((1, 2, 2, 3)))]
    part = ["point", *(chance.choice(DIGITS) for _ in range(chance.choice((1, 1, 2))))] if chance.random() < 0.6 else []
    unit = chance.choice(("centimeters", "millimeters", "degrees", "seconds", "percent", "degrees celsius", "minutes"))
    lead = chance.choice(("wrist", "forearm", "length", "left", "right", "extension", "minus", "about"))
    words = [*whole, *part, *(unit.split() if chance.random() < 0.5 else ())]
    return (lead, *words) if chance.random() < 0.3 else tuple(words)


def _number(chance: random.Random) -> Sequence[str]:
    return _rule("strings.numbers").draw(chance)[0]


@cache
def _dates() -> _Sampler:
    return _Sampler(graph_for(Wanted(slots=(DateSlot("date", ()),))))


def _date(chance: random.Random) -> Sequence[str]:
    """Half of them such as people say, half anything that the grammar takes."""
    if chance.random() < 0.5:
        return _dates().draw(chance)[0]
    later_years = ("six", "seven", "eight", "nine", "ten")
    year = chance.choice(("twenty", "two thousand", "two zero")), chance.choice(later_years)
    month = _rule("dates.month").draw(chance)[0]
    day = chance.choice((*DIGITS[1:], "ten", "eleven", "twelve", "fourteen", "nineteen", "twenty", "thirty"))
    later = "twenty " + chance.choice(("six", "seven", "eight", "nine")) if year[0] == "twenty" else year[1]
    ends = (*year[0].split(), *later.split())
    return ((*month, day, *ends), (day, *month, *ends), (*month, *ends))[chance.randrange(3)]


@cache
def _phrases() -> tuple[list[tuple[str, ...]], list[tuple[str, ...]]]:
    """Answers as people say them, with labels and without, and commands."""
    found = dict.fromkeys((phrase.words, phrase.field is None) for step in _steps() for phrase in phrases_of(step))
    answers, commands = ([tuple(words.split()) for words, command in found if command is own] for own in (False, True))
    return answers, commands


def _phrase(chance: random.Random) -> tuple[str, ...]:
    """What is said in a step; some answers with another, of any step, in the same breath."""
    answers, commands = _phrases()
    if chance.random() < 0.25:
        said = chance.choice(commands)
    else:
        said = chance.choice(answers)
        if len(said) < 6 and chance.random() < 0.35:
            said += chance.choice(answers)
    return tuple(_as_written(word) for word in said[:9])


def _breath(chance: random.Random) -> tuple[str, ...]:
    """Ten to twenty words in one breath, as somebody who narrates says them.

    What ends a shorter sentence stands in the middle here: answers, dates, readings and codes.
    """
    least, most = chance.choice(((10, 13), (12, 16), (14, 20)))
    said: tuple[str, ...] = ()
    while len(said) < least:
        kind = chance.choices((_phrase, _date, _reading, _spelled, _answer), (0.5, 0.2, 0.15, 0.05, 0.1))[0]
        lead = chance.choice(_labels()) if kind is _date and chance.random() < 0.7 else ()
        said += (*lead, *kind(chance))
    return said[:most]


@cache
def _labels() -> tuple[tuple[str, ...], ...]:
    """What a date is named by in the bundled procedures."""
    return tuple(
        dict.fromkeys(
            tuple(_as_written(word) for word in label.split())
            for step in _steps()
            for slot in step.wanted.slots
            if isinstance(slot, DateSlot)
            for label in slot.labels
        )
    )


def _beside_stop(chance: random.Random) -> tuple[str, ...]:
    """Words that sound like a stop word or a cry and are none, alone, in everyday talk or after a word of a step."""
    word = chance.choice(BESIDE_STOP)
    way = chance.random()
    if way < 0.4:
        return (word,)
    if way < 0.7:
        return (*_ordinary(chance)[:4], word)
    return (word, *chance.choice(_phrases()[0]))[:7]


def _short(chance: random.Random) -> tuple[str, ...]:
    return (chance.choice(SHORT),)


def _ordinary(chance: random.Random) -> tuple[str, ...]:
    """A whole ordinary sentence or a piece of one, or a prompt of the tool."""
    words = chance.choice(_prompts() if chance.random() < 0.25 else _lines()).split()
    if chance.random() < 0.4:
        begin = chance.randrange(max(1, len(words) - 3))
        words = words[begin : begin + chance.randint(2, 6)]
    return tuple(words[:12])


@cache
def _lines() -> tuple[str, ...]:
    return tuple(Path(__file__).with_name("ordinary.txt").read_text(encoding="utf-8").splitlines())


@cache
def _prompts() -> tuple[str, ...]:
    """Prompts of the bundled procedures that hold no figures, without marks."""
    prompts = (step.prompt for name in bundled_procedures() for step in load_bundle(name).procedure.steps)
    plain = ("".join(mark if mark.isalpha() or mark in " '" else " " for mark in prompt) for prompt in prompts
             if prompt and not any(mark.isdigit() or mark in "{}" for mark in prompt))  # fmt: skip
    return tuple(dict.fromkeys(" ".join(prompt.split()) for prompt in plain))


KINDS: dict[str, Callable[[random.Random], Sequence[str]]] = {
    "answers": _answer,
    "controls": _control,
    "spelled": _spelled,
    DIGIT_KIND: _digit_string,
    ONE_DIGIT: _one_digit,
    "readings": _reading,
    "numbers": _number,
    "dates": _date,
    "phrases": _phrase,
    "breaths": _breath,
    "beside stop": _beside_stop,
    "short": _short,
    "ordinary": _ordinary,
}


def classes(found: Sequence[Sentence]) -> Iterator[tuple[str, int]]:
    """How many there are of each class."""
    for kind in KINDS:
        yield kind, sum(sentence.kind == kind for sentence in found)
