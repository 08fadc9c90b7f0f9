"""Pages of practice: the debriefing of a session, the progress of a learner. Self-contained; nothing is fetched."""

from functools import cache
from importlib.resources import files
from pathlib import Path

import jinja2

from handsfree import __version__
from handsfree.definition.loader import Bundle
from handsfree.practice.debrief import CAUTION, RULES
from handsfree.practice.points_form import Points
from handsfree.practice.practice_chart import practice_course
from handsfree.practice.progress import Progress
from handsfree.practice.scoring import Score
from handsfree.practice.spoken_debrief import spoken_debrief
from handsfree.record.contents import Record
from handsfree.report.embedded_sound import Sounds, embedded
from handsfree.report.event_times import said
from handsfree.report.page import Dress, dress
from handsfree.report.timeline_chart import course

_FOLDERS = (
    files("handsfree.practice").joinpath("templates"),
    files("handsfree.report").joinpath("templates"),
)


def _template(name: str) -> str | None:
    found = (folder.joinpath(name) for folder in _FOLDERS)
    return next((file.read_text(encoding="utf-8") for file in found if file.is_file()), None)


@cache
def _environment() -> jinja2.Environment:
    return jinja2.Environment(
        loader=jinja2.FunctionLoader(_template),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


@cache
def _dress() -> Dress:
    return dress("page.js", paper=_template("practice.css") or "")


def debrief_page(record: Record, found: Score, points: Points, bundle: Bundle | None, folder: Path | None) -> str:
    """The page of a scored practice session.

    Args:
        record: The record.
        found: Its score.
        points: The table that it was scored by.
        bundle: The procedure, where it is at hand; only then the prompts are in the course.
        folder: Where the record lies with its kept sound; None: the page is mute.
    """
    wanted = _clips(record, found)
    sounds = embedded(folder, record) if folder is not None else Sounds((), 0)
    heard = tuple(sound for sound in sounds.clips if sound.sha256 in wanted.values())
    return _render(
        "debrief.html.jinja",
        dress=_dress(),
        found=found,
        things=spoken_debrief(found, points),
        record_id=record.header.record_id,
        clips=wanted,
        sounds=heard,
        playable={sound.sha256 for sound in heard},
        course=course(record, said(record, bundle)),
        events=practice_course(record, found),
        rules=RULES,
        caution=CAUTION,
        version=__version__,
    )


def _clips(record: Record, found: Score) -> dict[int, str]:
    """The sound of each moment that was marked, by its line in the record."""
    seqs = {mark.seq for item in found.items for mark in item.marks} | {fault.seq for fault in found.faults}
    of_events = dict(record.clips)
    clips: dict[int, str] = {}
    for one in record.facts:
        sha256 = one.clip_sha256 or of_events.get(one.event_seq)
        if one.seq in seqs and sha256 is not None:
            clips[one.seq] = sha256
    return clips


def progress_page(progress: Progress) -> str:
    """The page of a learner's progress."""
    return _render("progress.html.jinja", dress=_dress(), progress=progress, caution=CAUTION, version=__version__)


def _render(name: str, **values: object) -> str:
    return _environment().get_template(name).render(**values)
