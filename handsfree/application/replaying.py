"""Whether what a record holds follows from what was heard: its events, handed to a new session of its procedure."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from handsfree import __version__
from handsfree.definition.loader import Bundle, bundled_procedures
from handsfree.model.commands import Command, Control, ControlCommand, GiveValues, Wanted
from handsfree.model.events import CommandDoubted, CommandSpoken, SessionEvent
from handsfree.model.facts import VisitBegun
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import HowToSay, NeedsAsking
from handsfree.record.baseline import from_header
from handsfree.record.carried_procedure import PROCEDURE_COPY
from handsfree.record.chain_checking import RecordFault
from handsfree.record.comparison import differences
from handsfree.record.contents import Record, RecordHeader, recalled_lots
from handsfree.record.verify import Verification, verify
from handsfree.report.procedure_at_hand import carries_another, procedure_of
from handsfree.session.session import Session
from handsfree.understanding.heat_words import stands_as_cry
from handsfree.understanding.interpreter import interpret, typed
from handsfree.understanding.meanings import may_mean
from handsfree.understanding.scanned_label import SCAN

PROGRAM = "handsfree"
"""Name under which a record says which version of the program wrote it."""


@dataclass(frozen=True, slots=True)
class Replay:
    """What came of handing the events of a record to a new session.

    Attributes:
        faults: What the record states otherwise.
        why_not: Why it was not replayed, or "".
    """

    faults: tuple[RecordFault, ...]
    why_not: str = ""


def session_of(bundle: Bundle, header: RecordHeader) -> Session:
    """A session as the one that a record was begun with: its wording, recall list, earlier readings, patient."""
    return Session(
        bundle,
        expert=header.expert,
        recalled=recalled_lots(header),
        baseline=from_header(header),
        patient_reference=header.patient_reference or "",
        reference_pattern=header.reference_pattern,
        working=header.working,
        going_on=header.going_on,
        approval=header.approval,
    )


def verify_and_replay(
    path: Path, *, trusted_key: str | None = None, noted_head: str | None = None, procedure: Path | None = None
) -> tuple[Verification, str]:
    """Verify a record and replay it.

    Args:
        path: A record folder, or its file.
        trusted_key: As for `handsfree.record.verify.verify`.
        noted_head: As there.
        procedure: Procedure file of the record, where it is not a bundled one.

    Returns:
        The outcome, and why it was not replayed, or "".

    Raises:
        RecordError: There is no record, or it cannot be read.
        ProcedureFileError: The procedure file that was given has faults.
    """
    found = verify(path, trusted_key=trusted_key, noted_head=noted_head)
    if found.record is None:
        return found, ""
    replayed = replay(found.record, procedure)
    return found.contradicted_by(replayed.faults), replayed.why_not


def contradictions(
    procedure: Path | None = None, tell: Callable[[str], None] = lambda _: None
) -> Callable[[Record], tuple[RecordFault, ...]]:
    """What asks of a record, before it is signed or passed on, whether what it states follows from what was heard.

    Args:
        procedure: Procedure file of the record, where it is not a bundled one.
        tell: Is told why it was not replayed.
    """

    def contradicted(record: Record) -> tuple[RecordFault, ...]:
        replayed = replay(record, procedure)
        if replayed.why_not:
            tell(f"not replayed: {replayed.why_not}")
        return replayed.faults

    return contradicted


def replay(record: Record, procedure: Path | None = None) -> Replay:
    """Replay a record with the files that it was begun with, where they are at hand.

    Facts are compared with those that the session states now, and each command with the words that were heard. What
    another version of the program wrote and differs counts as not replayed.

    Args:
        record: The record.
        procedure: Its procedure file; what it carries, or the bundled one of its name, where None.

    Raises:
        ProcedureFileError: The file that was given has faults.
        UsageError: It is not the one that the record was begun with.
    """
    contradictions = _against_header(record)
    bundle = _bundle_of(record, procedure)
    if isinstance(bundle, str):
        return Replay(contradictions, bundle)
    if carries_another(record, bundle):
        what = f"{PROCEDURE_COPY} is another procedure than the one whose hash the first line names"
        contradictions = (RecordFault(1, what), *contradictions)
    session = session_of(bundle, record.header)

    def misheard(event: SessionEvent) -> str:
        if not isinstance(event, CommandSpoken | CommandDoubted):
            return ""
        # Nothing that is kept says whether it was heard as more of a reading.
        return _misheard(event, session.wanted.with_going_on) and _misheard(event, session.wanted)

    found = differences(record, session.handle, misheard)
    wrote = record.header.versions.get(PROGRAM, "")
    if found and wrote not in ("", __version__):
        # A later version may state more of the same events; that makes no honest record a broken one.
        why_not = f"{PROGRAM} {wrote} wrote it, and {__version__} states other facts"
        return Replay(contradictions, why_not)
    return Replay((*contradictions, *found))


def _bundle_of(record: Record, procedure: Path | None) -> Bundle | str:
    """The files that a record was begun with, or why they are not at hand."""
    begun = record.header.procedure
    bundle = procedure_of(record, procedure)
    if bundle is not None and bundle.sha256 == record.header.procedure_sha256:
        return bundle
    if record.misses_carried:
        return f"{PROCEDURE_COPY}, which lay beside it, is missing; put it back, or give its file with --procedure"
    if bundle is None and begun not in bundled_procedures():
        return f"{begun} is not bundled; give its file with --procedure"
    if bundle is None:
        return f"the bundled files of {begun} cannot be read"
    return f"the bundled {begun} is not the version that the record was begun with; give its file with --procedure"


def _against_header(record: Record) -> tuple[RecordFault, ...]:
    """What the first line says must be what the visit began with."""
    header = record.header
    return tuple(
        RecordFault(item.seq + 1, "the visit began with another procedure or record than the first line names")
        for item in record.of(VisitBegun)
        if (item.fact.record_id, item.fact.procedure, item.fact.procedure_sha256)
        != (header.record_id, header.procedure, header.procedure_sha256)
    )


def _asked_about_thirty_one(command: Command) -> bool:
    """Whether it is a date asked about for a thirteen or a thirty in it: earlier versions asked about 31 too."""
    values = [given.value for given in command.values] if isinstance(command, GiveValues) else []
    return any(isinstance(one, NeedsAsking) and one.code is HowToSay.THIRTEEN_OR_THIRTY for one in values)


def _is_typed_so(heard: Hypothesis, wanted: Wanted) -> bool:
    """Whether these words are refused with how to spell where a code is asked for, which no grammar holds."""
    again = typed(" ".join(heard.words), wanted, heard.spoken_from_s) if heard.engine == "typed" else None
    return again is not None and again.tags == heard.tags


def _misheard(event: CommandSpoken | CommandDoubted, wanted: Wanted) -> str:
    """Why the words of an event do not mean the command that was taken from them, or ""."""
    heard = event.heard
    if isinstance(event, CommandDoubted) and event.command == ControlCommand(Control.CRY):
        return "" if stands_as_cry(heard) else f'nothing in the words "{heard.text}" may be a cry'
    scanned = bool(heard.tags) and heard.tags[0].startswith(SCAN)
    if not wanted.dictation and not scanned and not may_mean(heard, wanted) and not _is_typed_so(heard, wanted):
        return f'the words "{heard.text}" do not mean what they were taken for'
    if interpret(heard, wanted) != event.command and not _asked_about_thirty_one(event.command):
        return f'the command does not follow from the words "{heard.text}"'
    return ""
