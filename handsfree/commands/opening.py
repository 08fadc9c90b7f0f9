"""Opening a session on a record: what `run` and `rehearse` share."""

import uuid
from pathlib import Path

from handsfree import __version__
from handsfree.clock import Clock
from handsfree.procedure.loader import Bundle
from handsfree.procedure.session import Session
from handsfree.record.journal import Journal
from handsfree.runner import Conductor, Outputs, stamp


def versions_of(bundle: Bundle) -> tuple[tuple[str, str], ...]:
    """Name and version of everything that shapes a session."""
    parts = [("handsfree", __version__), (f"procedure {bundle.procedure.id}", bundle.procedure.version)]
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
    patient_reference: str | None = None,
    expert: bool = False,
) -> tuple[Conductor, Journal]:
    """Make the record in `folder` and start the session on it.

    Raises:
        RecordError: The record cannot be made.
        UsageError: The patient reference looks like a name.
    """
    record_id = str(uuid.uuid4())
    versions = (*versions_of(bundle), ("recogniser", engine), ("wording", "expert" if expert else "novice"))
    journal = Journal.create(
        folder,
        {
            "record_id": record_id,
            "procedure": bundle.procedure.id,
            "procedure_sha256": bundle.sha256,
            "practice": practice,
            "versions": dict(versions),
            "started": stamp(clock.wall()),
            "patient_reference": patient_reference,
        },
        clock=clock,
    )
    journal.keep_clips = keep_clips
    conductor = Conductor(Session(bundle, expert=expert), journal, outputs, clock)
    conductor.start(record_id, versions, practice=practice)
    return conductor, journal
