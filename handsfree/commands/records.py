"""`handsfree records`, `recall` and `export`: find records and pass them on."""

import json
from dataclasses import asdict
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

import click

from handsfree.application.output_files import make_output_folder, write_output
from handsfree.application.record_places import record_at, records_at
from handsfree.errors import RecordError
from handsfree.export.choose import ExportForm, export_transaction
from handsfree.export.choose import export as export_record
from handsfree.export.fhir_transaction import PATIENT_SYSTEM
from handsfree.model.patient_reference import bare_code
from handsfree.options import JSON, PATH, PLACE, PROCEDURE_FILE
from handsfree.record.copies import Copies, without_copies
from handsfree.record.display_text import one_line
from handsfree.record.store import Filter, Summary, names_lot
from handsfree.record.verify import RecordState
from handsfree.report.store_sums import SumBy, counted, sums
from handsfree.store.address import checked_address

_DAY = click.DateTime(["%Y-%m-%d"])


def _store(_: click.Context, __: click.Parameter, address: str | None) -> str | None:
    """The address of a store."""
    return checked_address(address) if address is not None else None


@click.command()
@click.argument("place", metavar="FOLDER|URL", type=PLACE)
@click.option("--since", type=_DAY, help="First day (UTC).")
@click.option("--until", type=_DAY, help="Last day (UTC).")
@click.option("--state", type=click.Choice([state.value for state in RecordState]))
@click.option("--procedure", help="Identifier of the procedure.")
@click.option("--operator", help="Operator code.")
@click.option("--patient", help="Patient reference.")
@click.option("--room", help="Where it was made.")
@click.option("--lot", help="Lot of a device, also one that was corrected since.")
@click.option("--by", type=click.Choice([one.value for one in SumBy]), help="Sum up by this; copies count once.")
@JSON
def records(place: Path | str, *, by: str | None, as_json: bool, **wanted: object) -> None:
    """List the records in the subfolders of FOLDER, or in a store, the oldest first, with what stands out of each.

    Copies of one record are marked; in sums they count once, and practice is counted apart.
    """
    given: dict[str, Any] = {
        name: f"{value:%Y-%m-%d}" if name in ("since", "until") else str(value)
        for name, value in wanted.items()
        if value
    }
    with records_at(place) as source:
        found = source.listed(Filter(**given))
        copies = without_copies(found, source.goes_on_from)
    for one, other in copies.strangers:
        click.echo(one_line(f"{one} and {other} call themselves the same record and say different things"), err=True)
    if not found:
        click.echo("no records", err=True)
    if by is not None:
        summed = sums(copies.once, SumBy(by))
        if as_json:
            click.echo(json.dumps([asdict(item) for item in summed], indent=2))
            return
        for item in summed:
            practice = f"{item.practice} practice" if item.practice else ""
            words = (item.name, f"{item.visits} visits", practice, *counted(item))
            click.echo(one_line("  ".join(word for word in words if word)))
        _tell_copies(copies)
        return
    original = dict(copies.copies)
    if as_json:
        listed = [asdict(item) | {"copy_of": original.get(item.name, "")} for item in found]
        click.echo(json.dumps(listed, indent=2))
        return
    for record in found:
        practice = "practice" if record.practice else ""
        copy = f"copy of {original[record.name]}" if record.name in original else ""
        words = (record.started, record.state, record.procedure, record.operator, record.room, record.patient)
        words = (*words, practice, *counted(record), copy, record.name)
        click.echo(one_line("  ".join(word for word in words if word)))


def _tell_copies(copies: Copies) -> None:
    for name, original in copies.copies:
        click.echo(one_line(f"not counted: {name}, a copy of {original}"), err=True)


@click.command()
@click.argument("place", metavar="FOLDER|URL", type=PLACE)
@click.argument("lot")
@JSON
def recall(place: Path | str, lot: str, *, as_json: bool) -> None:
    """Find the patients of the records in FOLDER, or in a store, whose device had LOT, practice apart.

    A lot that was corrected since is found as well, and told so. Signs between letters and digits do not count.
    What cannot be read is named: it may hold the lot. Exits with 8 where that is so.
    """
    with records_at(place) as source:
        every = source.listed(Filter(lot=lot, unread=True))
        copies = without_copies(every, source.goes_on_from)
    unread = [item.name for item in every if not item.started]
    found = [item for item in copies.once if names_lot(item, lot)]
    if as_json:
        told = {"lot": lot, "records": [asdict(item) for item in found], "unreadable": unread}
        click.echo(json.dumps(told | {"copies": copies.copies}, indent=2))
    else:
        live = [item for item in found if not item.practice]
        click.echo(one_line(f"{lot}: {len(live)} visits, of {len({item.patient for item in live})} patients"))
        for item in [*live, *(item for item in found if item.practice)]:
            click.echo(one_line(_recalled(item, lot)))
        _tell_copies(copies)
    if unread:
        raise RecordError(f"{len(unread)} records cannot be read and may hold the lot: {', '.join(unread)}")


def _recalled(item: Summary, lot: str) -> str:
    stands = bare_code(lot) in {bare_code(one) for one in item.lots}
    changed = "" if stands else f"named once, since {', '.join(item.lots) or 'without a lot'}"
    practice = "PRACTICE" if item.practice else ""
    who = item.patient or "patient not given"
    words = (practice, who, item.started[:10], item.procedure, item.operator, item.room, changed, item.state, item.name)
    return "  ".join(word for word in words if word)


@click.command()
@click.argument("record", type=PATH)
@click.option("--to", "form", type=click.Choice([form.value for form in ExportForm]), required=True)
@click.option("--output", type=PATH, help="File to write; standard output where left out.")
@click.option(
    "--from", "address", callback=_store, metavar="URL", help="Store that RECORD, an identifier or a name, is in."
)
@PROCEDURE_FILE
@click.option("--allow-practice", is_flag=True, help="Let a practice record become FHIR; it stays marked.")
@click.option(
    "--server", metavar="URL", help="Send the FHIR to this R4 server, as a transaction that may be sent again."
)
@click.option("--token-file", type=PATH, help="File with the bearer token for --server.")
@click.option("--patient-system", metavar="URI", help="System of the site's own patient identifiers, for --server.")
def export(
    record: Path,
    form: str,
    output: Path | None,
    address: str | None,
    procedure: Path | None,
    server: str | None,
    token_file: Path | None,
    patient_system: str | None,
    *,
    allow_practice: bool,
) -> None:
    """Pass RECORD on as a FHIR R4 bundle, a CSV of readings or a note for a chart.

    It is replayed first, as by verify: one whose values do not follow from what was heard is refused.
    With --server what the server has already is not made again; what was amended since is updated there.
    """
    if server is None and (token_file is not None or patient_system is not None):
        raise click.UsageError("--token-file and --patient-system go with --server URL")
    if server is not None and (form != ExportForm.FHIR or output is not None):
        raise click.UsageError("--server takes --to fhir, and no --output")
    from handsfree.application.fhir_server import checked_server, read_token, send_transaction
    from handsfree.application.replaying import contradictions
    from handsfree.application.words_for_export import export_words

    base = checked_server(server) if server is not None else ""
    token = read_token(token_file) if token_file is not None else None
    words = partial(export_words, procedure=procedure)
    contradicted = contradictions(procedure, partial(click.echo, err=True))
    with record_at(record, address) as path:
        if server is None:
            text = export_record(
                path, ExportForm(form), words, allow_practice=allow_practice, contradicted=contradicted
            )
        else:
            text = export_transaction(
                path,
                words,
                patient_system=patient_system or PATIENT_SYSTEM,
                allow_practice=allow_practice,
                contradicted=contradicted,
            )
    if server is not None:
        taken = send_transaction(base, text, token)
        click.echo(f"{base}: {taken.created} created, {taken.there} there already or updated")
    elif output is None:
        click.echo(text, nl=False)
    else:
        write_output(output, text)


@click.command()
@click.argument("place", metavar="FOLDER|URL", type=PLACE)
@click.option("--output", type=PATH, required=True, help="Folder for the four files; made where it is not there.")
@click.option("--since", type=_DAY, help="First day (UTC).")
@click.option("--until", type=_DAY, help="Last day (UTC).")
@click.option("--practice/--no-practice", default=False, show_default=True, help="Take practice in as well, marked.")
def tables(place: Path | str, output: Path, *, practice: bool, **wanted: datetime | None) -> None:
    """Write all readings and light of the records in FOLDER, or in a store, as two long tables, each with its schema.

    readings.csv has one row a reading, light.csv one a zone; readings.schema.json and light.schema.json name type and
    meaning of each column. Each record counts once, and is replayed first. One that cannot be read, or whose values do
    not follow from what was heard, is left out and named; then it exits with 8.
    """
    from handsfree.application.store_tables import store_tables

    given: dict[str, Any] = {name: f"{value:%Y-%m-%d}" for name, value in wanted.items() if value is not None}
    with records_at(place) as source:
        made = store_tables(source, Filter(**given), practice=practice)
    make_output_folder(output)
    for name, text in made.files.items():
        write_output(output / name, text)
    _tell_copies(made.copies)
    click.echo(f"{output}: {made.records} records, {made.readings} readings, {made.zones} zones of light", err=True)
    if made.left_out:
        raise RecordError(f"left out: {'; '.join(map(one_line, made.left_out))}")
