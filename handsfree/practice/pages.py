"""Pages of practice: the debriefing of a session, the progress of a learner. Self-contained; nothing is fetched."""

import base64
import hashlib
from functools import cache
from importlib.resources import files

import jinja2
from markupsafe import Markup

from handsfree import __version__
from handsfree.definition.loader import Bundle
from handsfree.practice.debrief import CAUTION, RULES
from handsfree.practice.practice_chart import practice_course
from handsfree.practice.progress import Progress
from handsfree.practice.scoring import Score
from handsfree.record.contents import Record
from handsfree.report.event_times import said
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
def _style() -> tuple[Markup, str]:
    """Style sheet and a policy that lets only it in."""
    style = f"{_template('page.css')}{_template('practice.css')}"
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; img-src data:; base-uri 'none'; form-action 'none'"
    return Markup(style), policy  # noqa: S704 - files of this package


def debrief_page(record: Record, found: Score, bundle: Bundle | None) -> str:
    """The page of a scored practice session.

    Args:
        record: The record.
        found: Its score.
        bundle: The procedure, where it is at hand; only then the prompts are in the course.
    """
    style, policy = _style()
    return _render(
        "debrief.html.jinja",
        style=style,
        policy=policy,
        found=found,
        record_id=record.header.record_id,
        course=course(record, said(record, bundle)),
        events=practice_course(record, found),
        rules=RULES,
        caution=CAUTION,
        version=__version__,
    )


def progress_page(progress: Progress) -> str:
    """The page of a learner's progress."""
    style, policy = _style()
    return _render(
        "progress.html.jinja", style=style, policy=policy, progress=progress, caution=CAUTION, version=__version__
    )


def _render(name: str, **values: object) -> str:
    return _environment().get_template(name).render(**values)
