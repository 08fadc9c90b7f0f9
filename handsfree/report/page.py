"""A record as one self-contained page: nothing is fetched, nothing leaves it."""

from collections.abc import Iterable, Mapping
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
from handsfree.record.first_look import first_look
from handsfree.record.verify import RecordState, Verification
from handsfree.report.before_after import comparison, measuring_errors
from handsfree.report.embedded_sound import Sounds
from handsfree.report.event_times import said
from handsfree.report.first_screen import NOTHING, account_words, who_line
from handsfree.report.heading import follow_up, heading, integrity, title_of
from handsfree.report.light_picture import light_picture
from handsfree.report.light_table import zones
from handsfree.report.log import LogEntry, log
from handsfree.report.notes_table import Note, notes, taught
from handsfree.report.page_size import listed, shortened
from handsfree.report.paper import paper_style
from handsfree.report.procedure_at_hand import phrases_of
from handsfree.report.readings_table import Group, reading_groups
from handsfree.report.review_items import ReviewLevel, attention
from handsfree.report.summary import CAUTION
from handsfree.report.timeline_chart import course
from handsfree.report.told_faults import told_faults
from handsfree.serving.page_policy import page_policy

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


def dress(*scripts: str, connect: bool = False, paper: str = "") -> Dress:
    """Put style and scripts of this package together.

    Args:
        scripts: Names of script files.
        paper: Style of its own for a page that is printed.
        connect: Whether the page may talk to where it came from, which only the review server's may.
    """
    style = _template("page.css") + paper
    script = "".join(_template(name) for name in scripts)
    policy = page_policy(style, script, media="'self'" if connect else "data:", connect=connect)
    return Dress(Markup(style), Markup(script), policy)  # noqa: S704 - files of this package


def _review_dress(record: Record) -> Dress:
    return dress("page.js", "review.js", connect=True, paper=paper_style(record))


def review_policy(record: Record) -> str:
    """Content security policy of the page of a record under review, for a header."""
    return _review_dress(record).policy


def anchors(groups: Iterable[Group], noted: Iterable[Note], lines: Iterable[LogEntry]) -> frozenset[int]:
    """The lines of a record that a link of its page can lead to."""
    rows = (row.entry for group in groups for breath in group.breaths for row in breath.rows)
    logged = (line.anchor for line in lines if line.anchor is not None)
    return frozenset((*rows, *(note.entry for note in noted), *logged))


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
    faults = told_faults(found.faults) if found.state is RecordState.BROKEN else ()
    words = account_words(record, phrases)
    look = first_look(words, faults)
    items = attention(found, record, phrases)
    levels = [(level, listed(items, level)) for level in ReviewLevel]
    linked = {item.entry for _, shown in levels for item in shown if item.entry is not None}
    linked |= {line.entry for line in (*look.shown, *look.folded) if line.entry is not None}
    entries = log(record, prompts, phrases)
    groups, notes_taken = reading_groups(record, phrases.names), notes(record)
    lines = shortened(entries, linked)
    begun = [one.fact for one in record.of(VisitBegun)]
    return (
        environment()
        .get_template("report.html.jinja")
        .render(
            dress=_review_dress(record) if controls is not None else dress("page.js", paper=paper_style(record)),
            controls=controls,
            title=title_of(record, bundle),
            practice=record.practice,
            record_id=record.header.record_id,
            state=found.state.value,
            who=who_line(words),
            heading=heading(record, found),
            look=look,
            nothing=NOTHING,
            anchors=anchors(groups, notes_taken, lines),
            levels=levels,
            counts={level.name: sum(item.count for item in items if item.level is level) for level in ReviewLevel},
            course=course(record, prompts),
            why_no_prompts=prompts.why_not,
            comparison=comparison(record, measuring_errors(record, bundle)),
            groups=groups,
            zones=zones(record) if record.of(LightTurnedOn) else (),
            light_picture=light_picture(record, bundle) if record.of(LightTurnedOn) else None,
            exposure_label=EXPOSURE_LABEL,
            late=[one.fact.answer for one in record.of(WarmthAnswered) if one.fact.late],
            notes=notes_taken,
            taught=taught(record),
            follow_up=follow_up(record),
            log=lines,
            log_lines=len(entries),
            integrity=integrity(record, found, prompts.why_not),
            sounds=sounds,
            playable=sounds.hashes,
            cautions=[line for fact in begun for line in fact.cautions],
            not_approved=words.not_approved(),
            caution=CAUTION,
            version=__version__,
        )
    )
