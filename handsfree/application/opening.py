"""Opening a session on a record, new or interrupted: what `run` and `rehearse` share."""

import logging
import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

from handsfree import __version__
from handsfree.application.approvals import approval_of_bundle, usual_site_keys
from handsfree.application.baseline import BaselineRecord, fits
from handsfree.application.recall_list import RecallList
from handsfree.application.replaying import PROGRAM, session_of
from handsfree.build import build
from handsfree.clock import Clock
from handsfree.definition.loader import Bundle
from handsfree.errors import RecordError, UsageError
from handsfree.model.events import SessionInterrupted
from handsfree.model.facts import VisitClosed
from handsfree.model.patient_reference import DEFAULT_PATTERN, bare_code
from handsfree.model.working import Working
from handsfree.record.baseline import as_header, from_header
from handsfree.record.clips import Retention
from handsfree.record.contents import RecallListUsed, Record, RecordHeader
from handsfree.record.header import WORDINGS
from handsfree.record.journal import Journal
from handsfree.record.reference_checking import check_reference
from handsfree.record.restore import restore
from handsfree.record.verify import RecordState, verify
from handsfree.runner import Outputs, SessionClock, SessionRunner
from handsfree.session.session import Session
from handsfree.stamps import stamp

_LOG = logging.getLogger(__name__)
NO_RECALLS = RecallList()
RunnerOfKind = TypeVar("RunnerOfKind", bound=SessionRunner)


def versions_of(bundle: Bundle) -> tuple[tuple[str, str], ...]:
    """Name and version of everything that shapes a session."""
    parts = [
        (PROGRAM, __version__),
        ("build", build()),
        (f"procedure {bundle.procedure.id}", bundle.procedure.version),
    ]
    if bundle.words_for is not None:
        parts.append((f"procedure {bundle.words_for[0]}", bundle.words_for[1]))
    if bundle.device is not None:
        parts.append((f"device {bundle.device.id}", bundle.device.version))
    if bundle.light is not None:
        parts.append((f"light {bundle.light.id}", bundle.light.version))
    return tuple(parts)


def open_session(
    bundle: Bundle,
    folder: Path,
    clock: Clock,
    outputs: Outputs,
    *,
    practice: bool,
    engine: str,
    keep_clips: bool,
    retention: Retention = Retention.KEEP,
    patient_reference: str | None = None,
    reference_pattern: str = DEFAULT_PATTERN,
    expert: bool | None = False,
    working: Working = Working.GUIDED,
    going_on: bool = False,
    recalls: RecallList = NO_RECALLS,
    baseline: BaselineRecord | None = None,
    room: str = "",
    site_keys: Sequence[str] | None = None,
    beside: bool = False,
    kind: type[RunnerOfKind] = SessionRunner,  # type: ignore[assignment]  # the usual kind
) -> tuple[RunnerOfKind, Journal]:
    """Make the record in `folder` and start the session on it.

    Args:
        bundle: The procedure with its profiles.
        folder: A new or empty folder.
        clock: Session time and stamps.
        outputs: Carry out prompts.
        practice: Whether the record can only ever be practice.
        engine: Name of the recogniser, or "typed".
        keep_clips: Whether sound is kept at all.
        retention: How long, where it is kept.
        patient_reference: Never a name; None lets a live visit ask for it.
        reference_pattern: Regular expression that a reference must match, given or said.
        expert: Whether prompts are short; None for as long as somebody narrates.
        working: Who leads when it begins; it can be changed by voice.
        going_on: Whether findings that are heard well stand unless somebody objects; else each is affirmed.
        recalls: Lots that stop the session; they are kept in the record, so that it replays and resumes by them.
        baseline: Earlier record that values are compared with; what it says is kept in the new record.
        room: Where the visit is, as the site calls it; "" where nobody said.
        site_keys: Public keys that the site names for approvals (`approval_of_bundle`); None: as usually configured.
        beside: Whether the record is written by a thread of its own, because people wait for answers.
        kind: Which runner.

    Raises:
        RecordError: The record cannot be made.
        UsageError: The patient reference looks like a name or is none of the site, or the earlier record is of
            another patient and not said to be meant.
    """
    if patient_reference is not None:
        check_reference(patient_reference, reference_pattern, clock.wall().date())
    if baseline is not None:
        fits(baseline, patient_reference, practice=practice)
    record_id = str(uuid.uuid4())
    approval = approval_of_bundle(bundle, usual_site_keys() if site_keys is None else site_keys)
    versions = (
        *versions_of(bundle),
        ("recogniser", engine),
        ("wording", next(name for name, short in WORDINGS.items() if short is expert)),
        ("working", working.value),
        ("confirming", "going_on" if going_on else "each"),
    )
    header = RecordHeader(
        record_id=record_id,
        procedure=bundle.procedure.id,
        title=bundle.procedure.title,
        procedure_sha256=bundle.sha256,
        practice=practice,
        versions=dict(versions),
        started=stamp(clock.wall()),
        patient_reference=patient_reference,
        reference_pattern=reference_pattern,
        retention=retention if keep_clips else Retention.OFF,
        recall_list=RecallListUsed(sha256=recalls.sha256, lots=dict(recalls.lots)) if recalls.sha256 else None,
        baseline=as_header(baseline.earlier, baseline.head) if baseline is not None else None,
        room=room,
        approval=approval,
    )
    earlier = baseline.earlier if baseline is not None else None
    session = Session(
        bundle,
        expert=expert,
        recalled=recalls.lots,
        baseline=earlier,
        patient_reference=patient_reference or "",
        reference_pattern=reference_pattern,
        working=working,
        going_on=going_on,
        approval=approval,
    )
    journal = Journal.create(folder, header, clock=clock, carried=bundle.expanded)
    journal.keep_clips = keep_clips
    _LOG.info(
        "record_opened record=%s procedure=%s version=%s engine=%s for_practice=%s clips=%s",
        record_id,
        bundle.procedure.id,
        bundle.procedure.version,
        engine,
        practice,
        keep_clips,
    )
    runner = kind(session, journal, outputs, clock, beside=beside)
    runner.start(record_id, versions, practice=practice)
    return runner, journal


def resume_session(
    bundle: Bundle,
    folder: Path,
    clock: SessionClock,
    outputs: Outputs,
    *,
    practice: bool = False,
    keep_clips: bool | None = None,
    patient_reference: str | None = None,
    expert: bool | None = None,
    working: Working | None = None,
    going_on: bool | None = None,
    recalls: RecallList = NO_RECALLS,
    baseline: BaselineRecord | None = None,
    beside: bool = False,
) -> tuple[SessionRunner, Journal]:
    """Go on with the interrupted record in `folder`; what it was begun with stays as it was.

    Args:
        bundle: The procedure with its profiles, the same files.
        folder: Folder of the record.
        clock: Goes on where the record stopped.
        outputs: Carry out prompts.
        practice: True asks for practice, which only a record that was begun so can be.
        keep_clips: Whether sound is kept; as the record was begun where None.
        patient_reference: None, or the one in the record.
        expert: None, or as the record was begun.
        working: None, or as the record was begun.
        going_on: None, or as the record was begun.
        recalls: No list, or the one that the record was begun with.
        baseline: None, or the earlier record that it was begun with.
        beside: As in `open_session`.

    Returns:
        The runner and its journal. The runner is closed already where only the seal was missing.

    Raises:
        RecordError: The record is not interrupted, or was begun with other files or by another program.
        UsageError: Something is asked for that differs from what the record was begun with.
    """
    record = _interrupted(folder)
    header = record.header
    _same_files(bundle, folder, header)
    begun_hash = header.recall_list.sha256 if header.recall_list is not None else ""
    if patient_reference is not None:
        _same_patient(record, folder, patient_reference)
    for asked, differs in (
        ("--practice", practice and not header.practice),
        ("--expert or --novice", expert not in (None, header.expert)),
        ("--working", working not in (None, header.working)),
        ("--affirm-each or --going-on", going_on not in (None, header.going_on)),
        ("--recall-list", recalls.sha256 not in ("", begun_hash)),
        ("--baseline", baseline is not None and baseline.earlier != from_header(header)),
    ):
        if differs:
            raise UsageError(
                f"{folder} was begun otherwise, and a record keeps what it was begun with; leave out {asked}"
            )
    session = session_of(bundle, header)
    journal, found = restore(folder, session.handle, clock=clock)
    journal.keep_clips = header.retention is not Retention.OFF if keep_clips is None else keep_clips
    clock.go_on_from(found.last_at_s)
    _LOG.info(
        "record_resumed record=%s procedure=%s version=%s events=%d last_at_s=%.3f",
        header.record_id,
        bundle.procedure.id,
        bundle.procedure.version,
        len(found.events),
        found.last_at_s,
    )
    runner = SessionRunner(session, journal, outputs, clock, beside=beside)
    runner.record_id = header.record_id
    if journal.sealed:
        runner.close_as(next(fact.outcome for fact in found.facts[::-1] if isinstance(fact, VisitClosed)))
    elif found.events:
        runner.dispatch(SessionInterrupted(at_s=clock.monotonic_s(), wall=stamp(clock.wall()), gap_s=found.gap_s))
    else:
        runner.start(header.record_id, tuple(header.versions.items()), practice=header.practice)
    return runner, journal


@contextmanager
def kept_open(runner: SessionRunner, journal: Journal) -> Iterator[None]:
    """Hold the record of a session open, and free it whatever happens; one that is not closed can go on.

    What was handed over to be written is on the disk before the record is freed.

    Raises:
        RecordError: That cannot be written; it was said.
    """
    try:
        with journal:
            try:
                yield
                runner.finish()
            finally:
                runner.release()
    finally:
        _LOG.info("record_closed record=%s outcome=%s", runner.record_id, runner.outcome or "left_open")


def _interrupted(folder: Path) -> Record:
    found = verify(folder)
    if found.state is RecordState.BROKEN or found.record is None:
        raise RecordError(f"{folder} is broken and cannot be resumed: {found.faults[0]}")
    if found.state is RecordState.OPEN:
        raise RecordError(f"{folder} is being written by another process; wait until it has ended")
    if found.state is not RecordState.INTERRUPTED:
        raise RecordError(f"{folder} is {found.state}; a closed record cannot be resumed, only amended")
    return found.record


def _same_patient(record: Record, folder: Path, patient_reference: str) -> None:
    """A record that says whose visit it is never changes that; one that does not say it asks."""
    known = record.patient_reference
    if not known:
        raise UsageError(
            f"{folder} was begun without a patient reference, and asks for it by voice; leave out --patient"
        )
    if bare_code(known) != bare_code(patient_reference):
        raise UsageError(
            f"{folder} is of {known}, not of {patient_reference}, and that never changes; leave out --patient"
        )


def _same_files(bundle: Bundle, folder: Path, header: RecordHeader) -> None:
    begun = header.procedure
    if begun != bundle.procedure.id:
        raise RecordError(f"{folder} is a record of {begun}, not of {bundle.procedure.id}; name that procedure")
    if header.procedure_sha256 != bundle.sha256:
        raise RecordError(
            f"the files of {bundle.procedure.id} have changed since {folder} was begun; resume with the files of then"
        )
