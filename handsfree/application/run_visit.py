"""A visit from its begin, or from where it was broken off, to its end."""

import logging
from dataclasses import dataclass
from pathlib import Path

from handsfree.application.baseline import read_baseline
from handsfree.application.opening import NO_RECALLS, kept_open, open_session, resume_session
from handsfree.application.recall_list import read_recalls
from handsfree.application.sources import Source
from handsfree.clock import SystemClock
from handsfree.definition.loader import Bundle, load_bundle
from handsfree.developer_log import timed
from handsfree.errors import UsageError
from handsfree.model.patient_reference import DEFAULT_PATTERN
from handsfree.model.working import Working
from handsfree.record.clips import Retention

_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, kw_only=True)
class VisitOptions:
    """What is asked for.

    Attributes:
        procedure: Bundled identifier or file.
        folder: Of the record; None for a new one in `place`.
        place: Folder of records, or None.
        resume: Whether the record in `folder` goes on.
        practice: Whether the record can only ever be practice.
        expert: Whether prompts are short; None for as long as somebody narrates, and of a record that goes on as it was
            begun.
        working: Who leads; as `expert`.
        going_on: Whether findings that are heard well stand unless somebody objects; as `expert`.
        patient_reference: Never a name; None lets a live visit ask for it.
        reference_pattern: Regular expression of a reference of the site. A record that goes on keeps its own.
        recall_list: File of lots that stop the session, or None.
        baseline: Record of an earlier visit, or None.
        baseline_meant: Whether that is meant, though it be of another patient or side.
        clips: Whether sound is kept, where there is any. Of a record that goes on: None for as it was begun.
        retention: How long sound is kept.
        room: Where the visit is, "" where nobody said. A record that goes on keeps its own.
        site_keys: Public keys that the site names for approvals.
    """

    procedure: str
    folder: Path | None = None
    place: Path | None = None
    resume: bool = False
    practice: bool = False
    expert: bool | None = None
    working: Working | None = None
    going_on: bool | None = None
    patient_reference: str | None = None
    reference_pattern: str = DEFAULT_PATTERN
    recall_list: Path | None = None
    baseline: Path | None = None
    baseline_meant: bool = False
    clips: bool | None = None
    retention: Retention = Retention.OFF
    room: str = ""
    site_keys: tuple[str, ...] = ()


@dataclass(frozen=True)
class VisitEnd:
    """How a visit ended.

    Attributes:
        folder: Of the record.
        outcome: "completed" or "stopped", or None where the record is not closed and can go on.
    """

    folder: Path
    outcome: str | None


def hold_visit(asked: VisitOptions, source: Source) -> VisitEnd:
    """Open the record, run the session on what is heard, and leave the record closed or able to go on.

    Args:
        asked: What is asked for.
        source: Where words come from.

    Raises:
        UsageError: Options do not fit each other or the record.
        HandsfreeError: A file, a device or weights are missing, before the record is made; or the record cannot be
            written, and is left as far as it was.
    """
    with timed(_LOG, "procedure_loaded"):
        bundle = load_bundle(asked.procedure)
    folder = asked.folder or _new_folder(asked, bundle)
    recalls = read_recalls(asked.recall_list) if asked.recall_list is not None else NO_RECALLS
    if asked.baseline_meant and asked.baseline is None:
        raise UsageError("--baseline-meant needs --baseline RECORD: which earlier record is meant?")
    meant = asked.baseline_meant
    baseline = read_baseline(asked.baseline, bundle, meant=meant) if asked.baseline is not None else None
    clock = source.clock()
    with source.open(clock, bundle) as surrounding:
        if asked.resume:
            runner, journal = resume_session(
                bundle,
                folder,
                clock,
                surrounding.outputs,
                practice=asked.practice,
                keep_clips=asked.clips if source.sound else False,
                patient_reference=asked.patient_reference,
                expert=asked.expert,
                working=asked.working,
                going_on=asked.going_on,
                recalls=recalls,
                baseline=baseline,
                beside=source.beside,
            )
        else:
            runner, journal = open_session(
                bundle,
                folder,
                clock,
                surrounding.outputs,
                practice=asked.practice,
                engine=source.engine_name,
                keep_clips=source.sound and bool(asked.clips),
                retention=asked.retention if asked.retention is not Retention.OFF else Retention.KEEP,
                patient_reference=asked.patient_reference,
                reference_pattern=asked.reference_pattern,
                expert=asked.expert,
                working=asked.working or Working.GUIDED,
                going_on=bool(asked.going_on),
                recalls=recalls,
                baseline=baseline,
                room=asked.room,
                site_keys=asked.site_keys,
                beside=source.beside,
            )
        with kept_open(runner, journal):
            try:
                if not runner.closed:
                    surrounding.drive(runner)
            except KeyboardInterrupt:
                if not source.live:
                    raise
    return VisitEnd(folder, runner.outcome)


def _new_folder(asked: VisitOptions, bundle: Bundle) -> Path:
    if asked.place is None:
        raise UsageError("give --record FOLDER, or folder under [records] in the configuration")
    if asked.resume:
        raise UsageError("--resume needs --record FOLDER: which record is to go on?")
    return asked.place / f"{SystemClock().wall():%Y-%m-%d-%H%M%S}-{bundle.procedure.id}"
