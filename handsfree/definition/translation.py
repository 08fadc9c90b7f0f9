"""Other words for a procedure, kept in a file of their own: prompts, labels, answers, titles, and nothing else.

What is asked, in which order, the limits and the stops stay in the procedure's own file, so that a translation cannot
change them. A file of words names the procedure with `translates` and is used in its place.
"""

import copy
from collections.abc import Mapping
from difflib import get_close_matches
from typing import Annotated, Any, Literal, TypeGuard

from pydantic import Field

from handsfree.definition.form_base import FileId, Identifier, Phrase, Phrases, SentenceCode, Spoken, Strict, Version
from handsfree.definition.source_lines import Path_, SourceLines, validate

WORDS_OF_REASONS = ("roles", "skip_reasons", "override_reasons")


class FieldWords(Strict):
    """Words of a field.

    Attributes:
        label: See `StepField`.
        also: See `StepField`.
        options: Phrases of some or all of its options, in place of those of the procedure.
        again: What is said before the value is taken once more.
        alike: What to look at where both sides are flagged.
        spoken: What the unit of its number is called.
    """

    label: Phrase | None = None
    also: tuple[Phrase, ...] = ()
    options: dict[Identifier, Phrases] = Field(default_factory=dict)
    again: Spoken | None = None
    alike: Phrase | None = None
    spoken: Phrase | None = None


class TimerWords(Strict):
    """Words of a timer.

    Attributes:
        say: See `Timer`.
    """

    say: Spoken | None = None


class ItemWords(Strict):
    """Words of one thing that the patient is told.

    Attributes:
        say: See `TeachItem`.
        expert: See `TeachItem`.
    """

    say: Spoken | None = None
    expert: Spoken | None = None


class StepWords(Strict):
    """Words of a step.

    Attributes:
        prompt: See `Step`.
        expert: See `Step`.
        red_action: See `Step`.
        topic: See `Step`.
        reported: See `Step`.
        fields: Words of its fields, by identifier.
        items: Words of what is told, by identifier.
        timers: Words of its timers, by identifier.
        name: What each one of a step that is repeated is called.
    """

    prompt: Spoken | None = None
    expert: Spoken | None = None
    red_action: Spoken | None = None
    topic: Phrase | None = None
    reported: tuple[Phrase, ...] = ()
    fields: dict[Identifier, FieldWords] = Field(default_factory=dict)
    items: dict[Identifier, ItemWords] = Field(default_factory=dict)
    timers: dict[Identifier, TimerWords] = Field(default_factory=dict)
    name: Phrase | None = None


class Translation(Strict):
    """Other words for a procedure. What is left out is said as in the procedure.

    Attributes:
        form: Version of this form.
        translates: The procedure: name of its file, without .yaml, beside this one or bundled.
        of_version: Version of the procedure that the words were written for; no other is taken.
        id: Identifier of the procedure in these words.
        title: Its title.
        version: Version of this file.
        language: BCP 47 tag of the words.
        approved_by: Role that has to approve the procedure in these words; null: as the procedure says.
        cautions: In place of those of the procedure, one for one.
        roles: Phrases by identifier.
        skip_reasons: Phrases by identifier.
        override_reasons: Phrases by identifier.
        steps: Words of its steps, by identifier.
        sentences: The tool's own sentences, by code; those of the procedure stand where none is given here.
    """

    form: Literal[1]
    translates: FileId
    of_version: Version
    id: FileId
    title: Spoken
    version: Version
    language: str
    approved_by: str | None = None
    cautions: Annotated[tuple[Spoken, ...], Field(min_length=1)] | None = None
    roles: dict[Identifier, Phrases] = Field(default_factory=dict)
    skip_reasons: dict[Identifier, Phrases] = Field(default_factory=dict)
    override_reasons: dict[Identifier, Phrases] = Field(default_factory=dict)
    steps: dict[Identifier, StepWords] = Field(default_factory=dict)
    sentences: dict[SentenceCode, Spoken] = Field(default_factory=dict)


def is_translation(source: SourceLines) -> bool:
    """Whether a file holds other words for a procedure."""
    return isinstance(source.data, dict) and "translates" in source.data


def translated(procedure: SourceLines, words: SourceLines) -> SourceLines:
    """A procedure in other words.

    Args:
        procedure: The procedure, its blocks put in.
        words: The file of words.

    Returns:
        The procedure as if it had been written so; each word has its line in the file that it is from.
    """
    out = SourceLines(
        words.name,
        copy.deepcopy(procedure.data),
        dict(procedure.origins),
        [],
        (*words.parts, *procedure.parts),
    )
    checked = validate(words, Translation)
    out.faults = [*procedure.faults, *words.faults]
    if checked is None or not isinstance(out.data, dict):
        return out
    out.words_for = checked.translates, checked.of_version, str(out.data.get("language"))
    work = _TranslationWork(out, words)
    if checked.of_version != out.data.get("version"):
        work.fault(
            ("of_version",), f"{checked.translates} is version {out.data.get('version')} (look through the words again)"
        )
    for key in ("id", "title", "version", "language"):
        work.put((key,), out.data, key, (key,))
    if checked.approved_by is not None:
        work.put(("approved_by",), out.data, "approved_by", ("approved_by",))
    else:
        out.origins["approved_by",] = words.origin_of(("approved_by",))
    if checked.cautions is not None:
        if len(checked.cautions) != len(out.data.get("cautions", ())):
            work.fault(("cautions",), f"{checked.translates} has {len(out.data.get('cautions', ()))} (one for one)")
        else:
            work.put(("cautions",), out.data, "cautions", ("cautions",))
    for key in WORDS_OF_REASONS:
        work.phrases((key,), out.data.get(key), (key,), getattr(checked, key))
    out.data.setdefault("sentences", {})
    for code in checked.sentences:
        work.put(("sentences", code), out.data["sentences"], code, ("sentences", code))
    work.steps(checked)
    return out


class _TranslationWork:
    """Puts words into a copy of a procedure."""

    def __init__(self, out: SourceLines, words: SourceLines) -> None:
        self._out = out
        self._words = words

    def fault(self, path: Path_, text: str) -> None:
        self._out.faults.append((self._words.origin_of(path), text))

    def put(self, at: Path_, target: dict[str, Any], key: str, to: Path_) -> None:
        """Put what stands at a place of the words in place of a value."""
        value: Any = self._words.data
        for part in at:
            value = value[part]
        target[key] = copy.deepcopy(value)
        for path in [path for path in self._out.origins if path[: len(to)] == to]:
            del self._out.origins[path]
        # Faults of what a word stands in, such as two labels alike, are the words' as well.
        within, inside = at[:-1], to[:-1]
        while len(within) > 1 and len(inside) > 1:
            self._out.origins[inside] = self._words.origin_of(within)
            within, inside = within[:-1], inside[:-1]
        for path, origin in self._words.origins.items():
            if path[: len(at)] == at:
                self._out.origins[(*to, *path[len(at) :])] = origin

    def phrases(self, at: Path_, target: object, to: Path_, given: Mapping[str, Phrases]) -> None:
        before = {phrase: name for name, phrases in target.items() for phrase in phrases} if _named(target) else {}
        for name, phrases in given.items():
            crossed = next((phrase for phrase in phrases if before.get(phrase, name) != name), None)
            if not isinstance(target, dict) or name not in target:
                self.fault((*at, name), _unknown(name, target))
            elif crossed is not None:
                # Left for right would be taken as said, and read back as meant.
                self.fault((*at, name), f'"{crossed}" means {before[crossed]} in the procedure')
            else:
                self.put((*at, name), target, name, (*to, name))

    def steps(self, checked: Translation) -> None:
        assert isinstance(self._out.data, dict)  # noqa: S101 - the caller checks
        steps = _by_id(self._out.data.get("steps"))
        for step_id, words in checked.steps.items():
            at: Path_ = ("steps", step_id)
            if step_id not in steps:
                self.fault(at, _unknown(step_id, steps))
                continue
            number, step = steps[step_id]
            to: Path_ = ("steps", number)
            for key in ("prompt", "expert", "red_action", "topic", "reported"):
                if getattr(words, key):
                    self._replace((*at, key), step, key, (*to, key))
            if words.name is not None:
                self._replace((*at, "name"), step.get("repeat"), "name", (*to, "repeat", "name"))
            self._parts(words.timers, (*at, "timers"), step, (*to, "timers"))
            self._parts(words.items, (*at, "items"), step, (*to, "items"))
            self._parts(words.fields, (*at, "fields"), step, (*to, "fields"))

    def _parts(
        self,
        given: Mapping[str, FieldWords] | Mapping[str, ItemWords] | Mapping[str, TimerWords],
        at: Path_,
        step: dict[str, Any],
        to: Path_,
    ) -> None:
        parts = _by_id(step.get(str(to[-1])))
        for name, words in given.items():
            if name not in parts:
                self.fault((*at, name), _unknown(name, parts))
                continue
            number, part = parts[name]
            here, there = (*at, name), (*to, number)
            for key in ("label", "also", "say", "expert"):
                if getattr(words, key, None):
                    self._replace((*here, key), part, key, (*there, key))
            if isinstance(words, FieldWords):
                self.phrases((*here, "options"), part.get("options"), (*there, "options"), words.options)
                own = (("again", "say", "again"), ("alike", "alike", "sides"), ("spoken", "spoken", "number"))
                for key, inner, rule in own:
                    if getattr(words, key) is not None:
                        self._replace((*here, key), part.get(rule), inner, (*there, rule, inner))

    def _replace(self, at: Path_, target: object, key: str, to: Path_) -> None:
        """Put words in place of words; where there are none to replace, they would say something new."""
        if not isinstance(target, dict) or (target.get(key) is None and key != "expert"):
            self.fault(at, "the procedure says nothing there")
        else:
            self.put(at, target, key, to)


def _named(target: object) -> TypeGuard[dict[str, list[str]]]:
    return isinstance(target, dict) and all(isinstance(phrases, list) for phrases in target.values())


def _by_id(listed: object) -> dict[str, tuple[int, dict[str, Any]]]:
    items = listed if isinstance(listed, list) else []
    return {str(item.get("id")): (number, item) for number, item in enumerate(items) if isinstance(item, dict)}


def _unknown(name: str, known: object) -> str:
    names = [str(one) for one in known] if isinstance(known, dict) else []
    near = get_close_matches(name, names, 1)
    return f"the procedure has no {name}" + (f" (did you mean {near[0]}?)" if near else "")
