"""Everything that a check of a procedure file says, in the order of its files."""

from collections.abc import Iterator, Sequence
from difflib import get_close_matches

from handsfree.application.approvals import approval_of_bundle
from handsfree.authoring.findings import Finding, FindingLevel, finding_at
from handsfree.authoring.lint import structure_findings
from handsfree.authoring.narration_check import narration_findings
from handsfree.authoring.pronunciation import dictionary
from handsfree.authoring.spoken_risks import spoken_findings
from handsfree.authoring.step_contexts import Hearing, find_two_meanings, hearings, vocabulary
from handsfree.definition.loader import FileReading, load_bundle, read_procedure
from handsfree.definition.plan import compile_procedure
from handsfree.definition.source_lines import Path_, SourceLines
from handsfree.errors import GrammarError, ProcedureFileError
from handsfree.model.commands import OptionSlot
from handsfree.record.account_words import approval_words
from handsfree.session.prompts.wording import faults_of

MISHEARD = frozenset({"yes", "no", "halt", "hold", "undo", "next", "confirm", "palm"})
"""Single words that the recognisers took noise and other speech for, or missed in a third of trials: measured here."""

_TYPING_ERROR = 0.85
"""How alike two spellings must be for one to be taken for a slip of the other; "ulnar" is no slip of "ulcer"."""


def check(name: str, site_keys: Sequence[str] = ()) -> tuple[Finding, ...]:
    """Check a procedure, by bundled identifier or path.

    Args:
        name: Bundled identifier or path.
        site_keys: Public keys that the site names for approvals.

    Returns:
        Errors, warnings and notes in the order of the files; empty if there is nothing to say.

    Raises:
        ProcedureFileError: There is no such file.
    """
    try:
        reading = read_procedure(name)
    except ProcedureFileError as error:
        file, line, text = _parts(str(error))
        if not line:
            raise
        return (Finding(FindingLevel.ERROR, "form", file, line, "", text),)
    found = [
        finding_at(origin, FindingLevel.ERROR, "form", text)
        for source in reading.sources
        for origin, text in source.faults
    ]
    if reading.procedure is not None and not found:
        found += [*_content(reading), *_approval(name, reading.sources[0], site_keys)]
    order = {name: number for number, name in enumerate(part for source in reading.sources for part in source.parts)}
    return tuple(sorted(set(found), key=lambda one: (order.get(one.file, 0), one.line, one.text)))


def _approval(name: str, source: SourceLines, site_keys: Sequence[str]) -> Iterator[Finding]:
    stands = approval_of_bundle(load_bundle(name), site_keys)
    if not stands.counts:
        place = source.origin_of(("approved_by",))
        yield finding_at(place, FindingLevel.WARNING, "unapproved", approval_words(stands), f"handsfree approve {name}")


def _parts(text: str) -> tuple[str, int, str]:
    file, _, rest = text.partition(":")
    line, _, said = rest.partition(":")
    return (file, int(line), said.strip()) if line.isdecimal() else ("", 0, text)


def _content(reading: FileReading) -> Iterator[Finding]:
    assert reading.procedure is not None  # noqa: S101 - the caller checks
    source = reading.sources[0]
    plan = compile_procedure(reading.procedure)
    for odd in (*structure_findings(plan, reading.device), *spoken_findings(plan), *narration_findings(plan)):
        yield finding_at(source.origin_of(odd.path), odd.level, odd.code, odd.text, odd.advice)
    yield from _not_translated(source)
    for code, fault in faults_of(reading.procedure.sentences):
        yield finding_at(source.origin_of(("sentences", code)), FindingLevel.ERROR, "sentence", fault)
    places = {step.id: ("steps", index) for index, step in enumerate(reading.procedure.steps)}
    known: set[str] = set()
    try:
        for hearing in hearings(plan, reading.device, reading.light):
            yield from _heard(source, places[hearing.stage.step.id], hearing, known)
    except GrammarError as error:
        yield finding_at(source.origin_of(("language",)), FindingLevel.ERROR, "language", str(error))


def _not_translated(source: SourceLines) -> Iterator[Finding]:
    """Prompts that a file of other words leaves as they are; in another language that is hardly meant."""
    if source.words_for is None or not isinstance(source.data, dict):
        return
    steps = source.data.get("steps", [])
    left = [
        step["id"]
        for number, step in enumerate(steps)
        if source.origin_of(("steps", number, "prompt")).file != source.name
    ]
    languages = [tag.partition("-")[0] for tag in (str(source.data.get("language")), source.words_for[2])]
    if left:
        yield finding_at(
            source.origin_of(("language",)),
            FindingLevel.NOTE if len(set(languages)) == 1 else FindingLevel.WARNING,
            "not-translated",
            f"{len(left)} of {len(steps)} prompts stay as in the procedure: {', '.join(left)}",
            "give them under steps where they should differ",
        )


def _heard(source: SourceLines, where: Path_, hearing: Hearing, known: set[str]) -> Iterator[Finding]:
    step = hearing.stage.step
    fields = {field.id: (*where, "fields", number) for number, field in enumerate(step.fields)}
    for slot in hearing.slots:
        place = fields.get(slot.slot, where)
        for word, (phrase, option_value) in vocabulary(slot).items():
            if word in known or not dictionary():
                continue
            known.add(word)
            if word not in dictionary():
                near = " or ".join(get_close_matches(word, _frequent(word), 2, cutoff=_TYPING_ERROR))
                yield finding_at(
                    source.origin_of((*place, "options", option_value) if option_value else (*place, "label")),
                    FindingLevel.WARNING,
                    "unknown-word",
                    f'"{word}" in "{phrase}" is not in the pronouncing dictionary, '
                    "so --engine pocketsphinx cannot hear it",
                    f"use another word{', such as ' if near else ''}{near}",
                )
        if isinstance(slot, OptionSlot):
            for option in slot.options:
                for phrase in sorted(set(option.phrases) & MISHEARD):
                    yield finding_at(
                        source.origin_of((*place, "options", option.value)),
                        FindingLevel.WARNING,
                        "misheard-word",
                        f'"{phrase}" alone is often misheard',
                        "use a word of two syllables or more, or two words",
                    )
    double = find_two_meanings(hearing.graph)
    if double is not None:
        one, two = (_plain(tags) for tags in double.meanings)
        place = next(
            (fields[name] for name in fields if f"slot:{name}" in (*double.meanings[0], *double.meanings[1])), where
        )
        yield finding_at(
            source.origin_of(place),
            FindingLevel.ERROR,
            "ambiguous",
            f'"{" ".join(double.words)}" means both {one} and {two}',
            "use another label or phrase",
        )


def _frequent(word: str) -> list[str]:
    """Words of the dictionary with the same beginning, among which a likely spelling is looked for."""
    return [other for other in dictionary() if other[:2] == word[:2] and abs(len(other) - len(word)) <= 2]


def _plain(tags: tuple[str, ...]) -> str:
    return " ".join(tag.partition(":")[2] or tag for tag in tags).replace("_", " ")
