"""A record as one self-contained page: nothing is fetched, nothing leaves it."""

import base64
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files

import jinja2
from markupsafe import Markup

from handsfree import __version__
from handsfree.definition.loader import Bundle
from handsfree.exposure.ledger import EXPOSURE_LABEL
from handsfree.model.facts import LightTurnedOn, VisitBegun, WarmthAnswered
from handsfree.record.contents import Record
from handsfree.record.declared_sides import with_declared_sides
from handsfree.record.verify import Verification
from handsfree.report.embedded_sound import Sounds
from handsfree.report.event_times import said
from handsfree.report.heading import follow_up, heading, integrity, title_of
from handsfree.report.light_table import zones
from handsfree.report.log import log
from handsfree.report.notes_table import notes, taught
from handsfree.report.procedure_at_hand import phrases_of
from handsfree.report.readings_table import comparison, reading_groups
from handsfree.report.review_items import ReviewLevel, attention
from handsfree.report.summary import CAUTION
from handsfree.report.timeline_chart import course

_TEMPLATES = files("handsfree.report").joinpath("templates")


@dataclass(frozen=True, slots=True)
class Controls:
    """What a page on the review server needs besides.

    Attributes:
        closed: Whether the record may be amended.
        to_attest: Whether it is not attested as it stands.
        sound_goes: Whether attesting deletes the sound, because the record was begun so.
        left: What the visit left open.
        head: SHA-256 of the last line; every action carries it, so that nothing is done to what was not shown.
        amended: Entries that were amended, each with its amendments in words.
    """

    closed: bool
    to_attest: bool
    sound_goes: bool
    left: tuple[str, ...] = ()
    head: str = ""
    amended: Mapping[int, str] = field(default_factory=dict)


@cache
def environment() -> jinja2.Environment:
    """Templates of this package; everything is escaped, a missing name is an error."""
    return jinja2.Environment(
        loader=jinja2.FunctionLoader(_template),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _template(name: str) -> str:
    return _TEMPLATES.joinpath(name).read_text(encoding="utf-8")


@dataclass(frozen=True, slots=True)
class Dress:
    """Style and script of a page with the policy that lets only these two run.

    Attributes:
        style: Style sheet.
        script: Script.
        policy: Content security policy for a meta element.
    """

    style: Markup
    script: Markup
    policy: str


def dress(*scripts: str, connect: bool = False) -> Dress:
    """Put style and scripts of this package together.

    Args:
        scripts: Names of script files.
        connect: Whether the page may talk to where it came from, which only the review server's may.
    """
    style = _template("page.css")
    script = "".join(_template(name) for name in scripts)
    rules = [
        "default-src 'none'",
        f"style-src '{_digest(style)}'",
        f"script-src '{_digest(script)}'" if script else "script-src 'none'",
        "media-src 'self'" if connect else "media-src data:",
        "img-src data:",
        "base-uri 'none'",
        "form-action 'none'",
    ]
    rules += ["connect-src 'self'"] if connect else []
    return Dress(Markup(style), Markup(script), "; ".join(rules))  # noqa: S704 - files of this package


@cache
def _review_dress() -> Dress:
    return dress("page.js", "review.js", connect=True)


def review_policy() -> str:
    """Content security policy of a page under review, for a header."""
    return _review_dress().policy


def _digest(content: str) -> str:
    return f"sha256-{base64.b64encode(hashlib.sha256(content.encode()).digest()).decode()}"


def report_page(
    found: Verification, record: Record, bundle: Bundle | None, sounds: Sounds, controls: Controls | None = None
) -> str:
    """The page of a record.

    Args:
        found: Its verification.
        record: The folded record.
        bundle: The procedure that it was made with, where at hand; only then the prompts are shown, and its phrases.
        sounds: What can be played.
        controls: What the review server needs, or None for a file.
    """
    prompts = said(record, bundle)
    record = with_declared_sides(record)
    phrases = phrases_of(record, bundle)
    items = attention(found, record, phrases)
    begun = [one.fact for one in record.of(VisitBegun)]
    return (
        environment()
        .get_template("report.html.jinja")
        .render(
            dress=_review_dress() if controls is not None else dress("page.js"),
            controls=controls,
            title=title_of(record, bundle),
            practice=record.practice,
            record_id=record.header.record_id,
            state=found.state.value,
            heading=heading(record, found),
            levels=[(level, [item for item in items if item.level is level]) for level in ReviewLevel],
            counts={level.name: sum(item.count for item in items if item.level is level) for level in ReviewLevel},
            course=course(record, prompts),
            why_no_prompts=prompts.why_not,
            comparison=comparison(record),
            groups=reading_groups(record),
            zones=zones(record) if record.of(LightTurnedOn) else (),
            exposure_label=EXPOSURE_LABEL,
            late=[one.fact.answer for one in record.of(WarmthAnswered) if one.fact.late],
            notes=notes(record),
            taught=taught(record),
            follow_up=follow_up(record),
            log=log(record, prompts, phrases),
            integrity=integrity(record, found, prompts.why_not),
            sounds=sounds,
            playable=sounds.hashes,
            cautions=[line for fact in begun for line in fact.cautions],
            unapproved=[line for fact in begun for line in fact.unapproved],
            caution=CAUTION,
            version=__version__,
        )
    )
