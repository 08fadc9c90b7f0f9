"""Head and foot of a report: who, what, which device; and how far the record can be trusted. Pure."""

from dataclasses import dataclass

from handsfree.definition.loader import Bundle
from handsfree.record.contents import Record
from handsfree.record.entries import Entry, current, due_lines, of_record, outcome, versions
from handsfree.record.verify import RecordState, Verification
from handsfree.report.display_text import duration_text, local_text, offset_text, plain, text
from handsfree.report.event_times import Moments
from handsfree.report.tables import value_text

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
    if bundle is not None and bundle.sha256 == record.header.get("procedure_sha256"):
        return bundle.procedure.title
    return of_record(record, "title") or plain(of_record(record, "procedure").replace("-", " ")).capitalize()


def heading(record: Record, found: Verification) -> tuple[Pair, ...]:
    """Who, which side, which device, when; what was not given is said to be missing only where it matters."""
    said = current(record)
    started = record.started
    side = [text(fact.data.get("side")) for fact in record.of_kind("side_declared")]
    sizes = [text(fact.data.get("size")) for fact in record.of_kind("size_chosen")]
    operator = [value_text(entry) for entry in said if entry.step.startswith("operator")]
    pairs = [
        Pair("Patient reference", of_record(record, "patient_reference") or "none given", code=True),
        Pair("Side", side[-1] if side else "none declared"),
        Pair("Operator", ", ".join(operator) or "none given"),
    ]
    if started is not None:
        offset = started.local_offset_minutes
        pairs.append(Pair("Began", f"{local_text(started.wall, offset)} ({offset_text(offset)})"))
    pairs.append(Pair("Lasted", duration_text(Moments.of(record).end_s)))
    pairs += [Pair(_device_name(entry), value_text(entry), code=True) for entry in said if _is_code(entry)]
    pairs += [Pair("Size", sizes[-1])] if sizes and sizes[-1] else []
    pairs += [
        Pair(name.partition(" ")[0].capitalize(), f"{plain(name.partition(' ')[2].replace('-', ' '))}, version {value}")
        for name, value in versions(record).items()
        if name.startswith(("device ", "light "))
    ]
    pairs.append(Pair("Outcome", outcome(record)))
    pairs.append(Pair("State", STATES[found.state]))
    return tuple(pairs)


def _is_code(entry: Entry) -> bool:
    """Codes and dates of device and light; the bundled procedures name their steps device_... and light_..."""
    return entry.step.startswith(("device", "light")) and entry.kind in {"spelledtext", "spokendate"}


def _device_name(entry: Entry) -> str:
    return plain(entry.step).capitalize()


def follow_up(record: Record) -> tuple[Pair, ...]:
    """Dates given in the after phase, when the next check is due, who takes over, whether it was handed over.

    The bundled procedures name those steps follow_up_..., care_... and handover.
    """
    pairs = [
        Pair(f"{plain(entry.step).capitalize()}", value_text(entry))
        for entry in current(record)
        if entry.step.startswith(("follow_up", "care_"))
    ]
    pairs += [Pair("Check", line) for line in due_lines(record)]
    confirmed = [text(fact.data.get("step")) for fact in record.of_kind("step_confirmed")]
    return (*pairs, *(Pair(plain(step).capitalize(), "confirmed") for step in confirmed if step == "handover"))


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
    attested = record.attestation
    if attested is None:
        signature = "Not attested."
    else:
        by, key = text(attested.get("by")), text(attested.get("public_key"))
        signature = f"Attested by {by}; Ed25519 signature of this installation's key {key}."
        if attested.get("because"):
            signature += f" Left open, and signed so: {text(attested.get('because'))}"
        if not record.attested:
            signature += " Amended since: to be attested again."
    kept = {sha256 for _, sha256 in record.clips} - record.deleted_clips
    deleted = f", {len(record.deleted_clips)} deleted by the retention rule" if record.deleted_clips else ""
    return Integrity(
        state=STATES[found.state],
        fine=found.fine,
        lines=found.lines,
        head=" ".join(found.head_hash[index : index + 8] for index in range(0, len(found.head_hash), 8)),
        signature=signature,
        replayed=why_no_prompts or "The same procedure, by hash, gives every fact of this record again.",
        faults=tuple(map(str, found.faults)),
        clips=f"{len(kept)} utterances kept as sound{deleted}.",
    )
