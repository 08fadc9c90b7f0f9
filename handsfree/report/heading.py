"""Head and foot of a report: who, what, which device; and how far the record can be trusted. Pure."""

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass

from handsfree.definition.loader import Bundle
from handsfree.model.facts import SideDeclared, SizeChosen, StatedReading, StepConfirmed, StepEntered
from handsfree.model.readings import SpelledText, value_text
from handsfree.record.baseline import compared_with
from handsfree.record.contents import Record
from handsfree.record.display_text import capital, duration_text, offset_text, plain
from handsfree.record.display_values import (
    display_value,
    due_lines,
    label_part,
    local_time,
    operator_words,
    outcome_words,
    standing_readings,
)
from handsfree.record.moments import Moments
from handsfree.record.verify import RecordState, Verification

STATES = {
    RecordState.OPEN: "being written",
    RecordState.INTERRUPTED: "interrupted, not closed",
    RecordState.COMPLETE: "closed, not attested",
    RecordState.ATTESTED: "closed and attested",
    RecordState.BROKEN: "BROKEN: altered or incomplete",
}


@dataclass(frozen=True, slots=True)
class Pair:
    """A name and what it is.

    Attributes:
        name: Name.
        value: Value.
        code: Whether it is a code, better read letter by letter.
    """

    name: str
    value: str
    code: bool = False


def title_of(record: Record, bundle: Bundle | None) -> str:
    """Title of the procedure, from the record where the file is not at hand; its identifier in older records."""
    if bundle is not None and bundle.sha256 == record.header.procedure_sha256:
        return bundle.procedure.title
    return record.header.title or capital(plain(record.header.procedure.replace("-", " ")))


def heading(record: Record, found: Verification) -> tuple[Pair, ...]:
    """Who, which side, which device, when; what was not given is said to be missing only where it matters."""
    started = record.started
    side, size = record.last(SideDeclared), record.last(SizeChosen)
    pairs = [
        Pair("Patient reference", record.patient_reference or "none given", code=True),
        Pair("Side", side.side if side is not None else "none declared"),
        Pair("Operator", operator_words(record) or "none given"),
    ]
    if started is not None:
        began = local_time(record, started.wall)
        pairs.append(Pair("Began", f"{began} ({offset_text(started.local_offset_minutes)})"))
    earlier = record.header.baseline
    if earlier is not None:
        left_out = "" if compared_with(record) is not None else ", left out: of another patient or side"
        pairs.append(Pair("Compared with", f"the record of {earlier.day}{left_out}"))
    pairs.append(Pair("Lasted", duration_text(Moments.of(record).end_s)))
    own_place = {record.operator, record.patient_reference}
    pairs += [_pair(one.stands, code=True) for one in standing_readings(record) if _is_code(one.stands, own_place)]
    pairs += [Pair("Size", size.size)] if size is not None and size.size is not None else []
    for name, version in record.header.versions.items():
        kind, _, identifier = name.partition(" ")
        if kind in {"device", "light"} and identifier:
            pairs.append(Pair(capital(kind), f"{plain(identifier.replace('-', ' '))}, version {version}"))
    pairs.append(Pair("Outcome", outcome_words(record)))
    pairs.append(Pair("State", STATES[found.state]))
    return tuple(pairs)


def _is_code(reading: StatedReading, own_place: Collection[str]) -> bool:
    """Codes, and what else a device's label tells; the codes of operator and patient have a place of their own."""
    code = isinstance(reading.value, SpelledText) and value_text(reading.value) not in own_place
    return code or label_part(reading) is not None


def _pair(reading: StatedReading, *, code: bool = False) -> Pair:
    return Pair(capital(plain(reading.step)), display_value(reading.value, reading.unit), code)


def follow_up(record: Record) -> tuple[Pair, ...]:
    """What was settled once the work was done: dates, who takes over, when the next check is due, what was confirmed.

    These are the steps of the phase "after" that have one answer, or are confirmed; several answers are findings.
    """
    said = [reading.stands for reading in standing_readings(record)]
    after = [reading for reading in said if reading.phase == "after" and reading.timing is None]
    answers = Counter(reading.stage for reading in after)
    steps = {entered.fact.step for entered in record.of(StepEntered) if entered.fact.phase == "after"}
    confirmed = dict.fromkeys(one.fact.stage for one in record.of(StepConfirmed) if one.fact.step in steps)
    return (
        *(_pair(reading) for reading in after if answers[reading.stage] == 1),
        *(Pair("Check", line) for line in due_lines(record)),
        *(Pair(capital(plain(stage)), "confirmed") for stage in confirmed),
    )


@dataclass(frozen=True, slots=True)
class Integrity:
    """How far a record can be trusted.

    Attributes:
        state: RecordState in words.
        fine: Whether it is closed and without faults.
        lines: How many lines.
        head: SHA-256 of the last line, in groups of eight.
        signature: What the attestation says.
        replayed: What replay gave.
        faults: What is wrong.
        clips: How much sound is kept.
    """

    state: str
    fine: bool
    lines: int
    head: str
    signature: str
    replayed: str
    faults: tuple[str, ...]
    clips: str


def integrity(record: Record, found: Verification, why_no_prompts: str) -> Integrity:
    """The integrity section."""
    if not record.attestations:
        signature = "Not attested."
    else:
        last = record.attestations[-1]
        signature = f"Attested by {last.by}; Ed25519 signature of this installation's key {last.public_key}."
        if last.because:
            signature += f" Left open, and signed so: {last.because}"
        if not record.attested:
            signature += " Amended since: to be attested again."
    kept = {sha256 for _, sha256 in record.clips} - record.deleted_clips
    deleted = f", {len(record.deleted_clips)} deleted by the retention rule" if record.deleted_clips else ""
    same = "The same procedure, by hash, gives every fact of this record again."
    if found.state is RecordState.BROKEN:
        same = (
            "The same procedure, by hash, gives these facts from these events again. The record is broken all the same."
        )
    return Integrity(
        state=STATES[found.state],
        fine=found.fine,
        lines=found.lines,
        head=" ".join(found.head_hash[index : index + 8] for index in range(0, len(found.head_hash), 8)),
        signature=signature,
        replayed=why_no_prompts or same,
        faults=tuple(map(str, found.faults)),
        clips=f"{len(kept)} utterances kept as sound{deleted}.",
    )
