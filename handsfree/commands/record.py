"""`handsfree verify`, `amend`, `attest`: check a record and do what may still be done to it."""

import json
import re
from functools import partial
from pathlib import Path

import click

from handsfree.application.amended_values import amendment_rules
from handsfree.application.replaying import contradictions, verify_and_replay
from handsfree.errors import RecordError
from handsfree.options import JSON, KEY_FILE, PATH, PROCEDURE_FILE
from handsfree.record.amendments import AMENDABLE_MEMBERS, amendments_of, change_of
from handsfree.record.amendments import amend as amend_record
from handsfree.record.amendments import attest as attest_record
from handsfree.record.clips import Retention
from handsfree.record.codec import encode_part
from handsfree.record.display_text import one_line
from handsfree.record.display_values import amended_flag
from handsfree.record.signing import installation_key
from handsfree.record.verify import verify as verify_record
from handsfree.report.told_faults import told_faults
from handsfree.report.ways_confirmed import count_ways, ways_confirmed
from handsfree.session.prompts.reason_words import reason_words

_MOST_FAULTS = 20
_HASH = re.compile(r"[0-9a-fA-F]{64}")


def _hexadecimal(_: click.Context, param: click.Parameter, text: str | None) -> str | None:
    """A hash or a key, as it is printed."""
    if text is not None and _HASH.fullmatch(text.strip()) is None:
        raise click.BadParameter("64 hexadecimal digits would be right", param=param)
    return text.strip().lower() if text is not None else None


@click.command()
@click.argument("record", type=PATH)
@click.option(
    "--key",
    "trusted",
    metavar="HEX",
    callback=_hexadecimal,
    help="Public key that must have attested the record and signed every line since, and the note of its end.",
)
@click.option(
    "--head",
    "noted",
    metavar="HEX",
    callback=_hexadecimal,
    help="Head hash that was printed or written down: a line of the record must have it.",
)
@click.option("--all", "every", is_flag=True, help=f"List every fault, not the first {_MOST_FAULTS} alone.")
@PROCEDURE_FILE
@JSON
def verify(
    record: Path, trusted: str | None, noted: str | None, procedure: Path | None, *, every: bool, as_json: bool
) -> None:
    """Check that RECORD (a folder or its file) is whole and unaltered, and replay it.

    Names the line of each fault. Exits with 8 unless the record is complete or attested. The events are handed to a
    new session of the same procedure, which must give the values on file; where its files are not at hand as they
    were, that is said.

    Whoever can write the folder can write the whole record anew and make every hash right again. --key shows that,
    where the record was attested. An earlier copy that was put back in its place is shown by --head alone.
    """
    found, not_replayed = verify_and_replay(record, trusted_key=trusted, noted_head=noted, procedure=procedure)
    attestation = found.record.attestation if found.record is not None else None
    if as_json:
        summary: dict[str, object] = {
            "state": found.state.value,
            "lines": found.lines,
            "head": found.head_hash,
            "faults": [{"line": fault.line, "what": fault.what} for fault in found.faults],
            "attestation": encode_part(attestation),
            "practice": found.record.practice if found.record is not None else None,
            "not_replayed": not_replayed,
            "confirmed": dict(count_ways(found.record)) if found.record is not None else None,
        }
        click.echo(json.dumps(summary, indent=2, sort_keys=True))
    else:
        practice = ", PRACTICE" if found.record is not None and found.record.practice else ""
        click.echo(f"{found.state.value}{practice}: {found.lines} lines, head {found.head_hash}")
        if attestation is not None:
            click.echo(one_line(f"attested by {attestation.by}, key {attestation.public_key}"))
        for told in ways_confirmed(found.record) if found.record is not None else ():
            click.echo(told)
        if not_replayed:
            click.echo(one_line(f"not replayed: {not_replayed}"))
        for told in told_faults(found.faults, len(found.faults) if every else _MOST_FAULTS):
            click.echo(told)
    if not found.fine:
        raise RecordError(f"{record} is {found.state.value}; only a complete or attested record is fine")


@click.command()
@click.argument("record", type=PATH)
@click.option("--entry", type=int, required=True, help="Number of the entry, as in the note and the CSV export.")
@click.option("--value", required=True, help="The right value.")
@click.option(
    "--member",
    type=click.Choice(sorted(AMENDABLE_MEMBERS)),
    default="value",
    show_default=True,
    help="What of the entry is corrected; text and verified (true, false) are those of a note.",
)
@click.option("--by", "role", required=True, help="Role of who corrects.")
@click.option("--reason", required=True, help="Why.")
@PROCEDURE_FILE
@KEY_FILE
def amend(
    record: Path,
    entry: int,
    value: str,
    member: str,
    role: str,
    reason: str,
    procedure: Path | None,
    key_file: Path,
) -> None:
    """Correct one entry of a closed RECORD by adding a line; the entry stays as it was.

    A value is held against the list or the limits of its procedure where that is bundled or given: what cannot be is
    refused, what would be flagged in a visit is marked so everywhere. The record is replayed first, as by attest. The
    line is signed with the key of this installation. An attested record has to be attested again.
    """
    changes = change_of(record, entry, member, value)
    earlier = amendments_of(record, entry)
    if earlier:
        click.echo(f"entry {entry} was amended before, by entry {', '.join(map(str, earlier))}", err=True)
    rules = amendment_rules(record, procedure)
    line = amend_record(
        record,
        entry,
        changes,
        by=role,
        reason=reason,
        value_fault=rules.value_fault,
        judge=rules.judge,
        contradicted=contradictions(procedure, partial(click.echo, err=True)),
        key=installation_key(key_file),
    )
    click.echo(f"entry {entry} amended by entry {line}")
    found = verify_record(record).record
    for reading in found.readings if found is not None else ():
        told = amended_flag(reading, reason_words)
        if told and line in (one.seq for one in reading.amendments):
            click.echo(one_line(f"entry {entry}: {told}"))


@click.command()
@click.argument("record", type=PATH)
@click.option("--by", "role", required=True, help="Role of who attests.")
@KEY_FILE
@click.option(
    "--clips",
    type=click.Choice([item.value for item in Retention if item is not Retention.OFF]),
    help="Keep the sound of utterances, or delete it now; as the record was begun where left out.",
)
@click.option("--open-items", "because", metavar="REASON", default="", help="Why what a visit left open stays so.")
@PROCEDURE_FILE
def attest(record: Path, role: str, key_file: Path, clips: str | None, because: str, procedure: Path | None) -> None:
    """Sign the closed RECORD with the key of this installation.

    It is replayed first, as by verify: one whose values do not follow from what was heard is refused.
    A visit that ended early has open items; they are signed with it, and the reason why they stay so.
    """
    key = installation_key(key_file)
    retention = Retention(clips) if clips else None
    head = attest_record(
        record,
        key,
        by=role,
        retention=retention,
        open_items_because=because,
        contradicted=contradictions(procedure, partial(click.echo, err=True)),
    )
    click.echo(f"attested, head {head}")
