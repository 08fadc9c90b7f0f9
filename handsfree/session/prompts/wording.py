"""Codes to words: the catalogue of one language, whole or short, and the ways in which arguments are put into words."""

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import is_dataclass
from datetime import date
from decimal import Decimal
from difflib import get_close_matches
from functools import cache, lru_cache
from importlib.resources import files

from handsfree.definition.verbalization import cardinal, digits, number, spoken_date
from handsfree.errors import ProcedureFileError
from handsfree.model.open_items import OpenItem, OpenReading, OpenStep
from handsfree.model.reasons import (
    BaselineOfAnotherPatient,
    FlaggedAnswer,
    Ground,
    Grounds,
    HeatWordSaid,
    Recalled,
    ScanFault,
)
from handsfree.model.refusals import Decimals, DoesNotFit, NoReference, Refusal, RefusalReason, SayItSo
from handsfree.model.step_names import NO_NAMES, StepNames
from handsfree.session.prompts.fixed import Consequence, Fixed, HoldAction, WayOn
from handsfree.session.prompts.hints import AnyHint, Hint, HintWith
from handsfree.session.prompts.sentence_codes import AnySentence, Prompt, RefusedBecause, Sentence

LANGUAGE = "en-US"
_WORD_STARTS = re.compile(r"(?<!^)(?=[A-Z])")
_PLACE = re.compile(r"\{(\w+)(?::(\w+))?\}")
_OPEN = frozenset(
    {
        "open_hold",
        "open_reading",
        "open_step",
        "open_zone",
        "open_late_question",
        "open_light_off_unconfirmed",
        "open_timer",
    }
)


@cache
def catalogue(language: str = LANGUAGE) -> Mapping[str, str]:
    """Every sentence of a language by "table.code"."""
    text = files("handsfree.session.prompts").joinpath(f"{language}.toml").read_text(encoding="utf-8")
    tables: dict[str, dict[str, str]] = tomllib.loads(text)
    return {f"{table}.{code}": words for table, codes in tables.items() for code, words in codes.items()}


def code_of(kind: type) -> str:
    """The code of a type of sentence or hint: its name in small letters."""
    return _small_letters(kind.__name__)


def codes_of(spoken: Prompt) -> tuple[str, ...]:
    """The codes of the sentences of a prompt, in their order, also of those that are said without a word."""
    return tuple(
        code_of(type(sentence)) if isinstance(sentence, Sentence) else sentence.value for sentence in spoken.sentences
    )


@cache
def _small_letters(name: str) -> str:
    return _WORD_STARTS.sub("_", name).lower()


def faults_of(own: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """What is wrong with sentences that are to be said in place of the catalogue's: code, and what would be right."""
    known = catalogue()
    for code, text in own.items():
        if code not in known:
            near = get_close_matches(code, known, 1)
            yield code, f"there is no such sentence{f' (did you mean {near[0]}?)' if near else ''}"
            continue
        places = {place for place, _ in _PLACE.findall(known[code])}
        ways = {how for _, how in _PLACE.findall(text)} - {"", *_ONE, *_JOINED}
        unknown = {place for place, _ in _PLACE.findall(text)} - places
        if unknown:
            there = ", ".join(f"{{{place}}}" for place in sorted(places)) or "none"
            yield code, f"{', '.join(sorted(unknown))} is no place of it (there are: {there})"
        if ways:
            yield code, f"{', '.join(sorted(ways))} is no way to say it (there are: {', '.join([*_ONE, *_JOINED])})"
        if "{" in _PLACE.sub("", text) or "}" in _PLACE.sub("", text):
            yield code, "has a bracket that belongs to no place"


class Wording:
    """Says codes in words.

    Args:
        expert: Whether sentences are short where there is a short one.
        own: Sentences by "table.code" that are said in place of the catalogue's.
        names: What steps and their fields are called.

    Raises:
        ProcedureFileError: One of them does not fit; names each.
    """

    def __init__(
        self, *, expert: bool = False, own: Mapping[str, str] | None = None, names: StepNames = NO_NAMES
    ) -> None:
        faults = [f"sentences.{code}: {fault}" for code, fault in faults_of(own or {})]
        if faults:
            raise ProcedureFileError("\n".join(faults))
        self._expert = expert
        self._names = names
        self._words = {**catalogue(), **(own or {})}

    def prompt(self, spoken: Prompt) -> str:
        """A whole prompt."""
        return " ".join(words for words in map(self.sentence, spoken.sentences) if words)

    def sentence(self, sentence: AnySentence) -> str:
        """One sentence."""
        match sentence:
            case Fixed():
                return self._say(f"fixed.{sentence}", {})
            case HoldAction():
                return self._say(f"action.{sentence}", {})
            case Consequence():
                return self._say(f"consequence.{sentence}", {})
            case RefusedBecause(reason=reason, before=before):
                return self.refusal(reason, before)
            case _:
                return self._say(f"sentence.{code_of(type(sentence))}", _members(sentence))

    def hint(self, hint: AnyHint) -> str:
        """What to say, in one line without a full stop; "" where there is nothing to say."""
        if isinstance(hint, Hint):
            return self._say(f"hint.{hint}", {})
        return self._say(f"hint.{code_of(type(hint))}", _members(hint))

    def refusal(self, reason: RefusalReason, before: str = "") -> str:
        """Why something is not taken.

        Args:
            reason: Why.
            before: Of a step that must be done first, its prompt.
        """
        match reason:
            case Refusal(code=code):
                return self._say(f"refusal.{code}", {})
            case DoesNotFit(label=label, code=code):
                return self._say(f"fit.{code}", {"label": label})
            case NoReference(label=label, code=code):
                return self._say(f"reference.{code}", {"label": label})
            case Decimals(most=0, label=label):
                return self._say("refusal.whole", {"label": label})
            case SayItSo(label=label, code=code, arguments=arguments):
                given = {str(place): argument for place, argument in enumerate(arguments)}
                how = self._say(f"say.{code}", given | {"all": " ".join(arguments)})
                return self._say("refusal.say_it_so", {"label": label, "how": how})
            case _:
                return self._say(f"refusal.{reason.type}", {**_members(reason), "before": before})

    def reason(self, reason: Ground | Grounds) -> str:
        """Why something is flagged or held: part of a sentence, without a capital or a full stop."""
        match reason:
            case Grounds(ground=ground, repeated=repeated, alike=alike, which=which):
                words = self.reason(ground)
                words = self._say("reason.numbered", {"reason": words, "which": which}) if which else words
                words = self._say("reason.alike", {"reason": words, "alike": alike}) if alike else words
                return self._say("reason.repeated", {"reason": words}) if repeated else words
            case ScanFault(code=code, argument=argument):
                return self._say(f"scan_fault.{code}", {"argument": argument})
            case HeatWordSaid(word="cry"):
                return self._say("reason.heat_was_affirmed", {})
            case FlaggedAnswer(told=told) if told:
                return self._say("reason.flagged_answer_told", {"told": told})
            case Recalled(label=label, why=why) if why:
                return self._say("reason.recalled_because", {"label": label, "why": why})
            case BaselineOfAnotherPatient(here=""):
                return self._say("reason.baseline_of_unknown_patient", {})
            case _:
                return self._say(f"reason.{reason.type}", _members(reason))

    def open_item(self, item: OpenItem) -> str:
        """What is open: part of a sentence."""
        match item:
            case OpenStep(stage=stage):
                told: Mapping[str, object] = {"step": self._names.stage(stage)}
            case OpenReading(stage=stage, field=field):
                told = {"reading": self._names.reading(stage, field)}
            case _:
                told = _members(item)
        return self._say(f"open.{item.type}", told)

    def _say(self, code: str, arguments: Mapping[str, object]) -> str:
        table, _, name = code.partition(".")
        short = self._words.get(f"short.{name}") if self._expert and table in {"fixed", "sentence"} else None
        text = self._words[code] if short is None else short
        first, *places = _parts(text)
        if not places:
            return first
        put = [self._put(arguments[name], how) + then for name, how, then in zip(*[iter(places)] * 3, strict=True)]
        return first + "".join(put)

    def _put(self, argument: object, how: str) -> str:
        """One argument in words."""
        if isinstance(argument, tuple):
            parts = [self._put(part, "") for part in argument]
            return _JOINED[how or "commas"](parts)
        words = self._plain(argument, how)
        return words[:1].upper() + words[1:] if how == "cap" else words

    def _plain(self, argument: object, how: str) -> str:
        match argument:
            case float() if how == "figures":
                return f"{argument:g}"
            case float():
                return f"{argument:.1f}"
            case WayOn():
                return self._say(f"way.{argument}", {})
            case Consequence():
                return self.sentence(argument)
            case Hint() | HintWith():
                return self.hint(argument)  # type: ignore[arg-type]  # the union of hints is closed
            case str():
                return digits(argument) if how == "digits" else str(argument)
            case int():
                return cardinal(argument)
            case Decimal():
                return number(argument)
            case date():
                return spoken_date(argument)
            case Sentence():
                return self.sentence(argument)
            case _ if getattr(argument, "type", "") in _OPEN:
                return self.open_item(argument)  # type: ignore[arg-type]  # its type says so
            case _:
                return self.reason(argument)  # type: ignore[arg-type]  # nothing else is an argument


@lru_cache(maxsize=4096)
def _parts(text: str) -> tuple[str, ...]:
    """The text before the first place; then of each place its name, how it is said or "", and the text after it."""
    return tuple(part or "" for part in _PLACE.split(text))


def _members(value: object) -> dict[str, object]:
    assert is_dataclass(value)  # noqa: S101 - sentences, hints and reasons are
    return {name: getattr(value, name) for name in value.__dataclass_fields__}


def _listed(parts: list[str]) -> str:
    return f"{', '.join(parts[:-1])} and {parts[-1]}" if len(parts) > 1 else "".join(parts)


def _either(parts: list[str]) -> str:
    return f"{', '.join(parts[:-1])}, or {parts[-1]}" if len(parts) > 1 else "".join(parts)


def _reasons(parts: list[str]) -> str:
    words = "; ".join(dict.fromkeys(parts))
    return words[:1].upper() + words[1:]


_JOINED: Mapping[str, Callable[[list[str]], str]] = {
    "commas": ", ".join,
    "and": _listed,
    "or": " or ".join,
    "or_the": " or the ".join,
    "either": _either,
    "semicolons": "; ".join,
    "parts": lambda parts: "; ".join(dict.fromkeys(parts)),
    "reasons": _reasons,
}
"""How several are put one after the other; what is said twice is said once where reasons are."""
_ONE = ("cap", "digits", "tenths", "figures")
"""How one is said."""
