"""`handsfree records`, `recall` and `export`: find records and pass them on."""

import json
from dataclasses import asdict
from datetime import datetime
from functools import partial
from pathlib import Path

import click

from handsfree.application.output_files import make_output_folder, write_output
from handsfree.errors import RecordError
from handsfree.export.choose import ExportForm
from handsfree.export.choose import export as export_record
from handsfree.model.patient_reference import bare_code
from handsfree.options import JSON, PATH, PROCEDURE_FILE
from handsfree.record.copies import Copies, without_copies
from handsfree.record.display_text import one_line
from handsfree.record.store import Filter, Summary, list_records, names_lot
from handsfree.record.verify import RecordState
from handsfree.report.store_sums import SumBy, counted, sums

_DAY = click.DateTime(["%Y-%m-%d"])


@click.command()
@click.argument("folder", type=PATH)
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
def records(folder: Path, *, by: str | None, as_json: bool, **wanted: object) -> None:
    """List the records in the subfolders of FOLDER, the oldest first, with what stands out of each.

    Copies of one record are marked; in sums they count once, and practice is counted apart.
    """
    given = {
        name: f"{value:%Y-%m-%d}" if name in ("since", "until") else str(value)
        for name, value in wanted.items()
        if value
    }
    found = list_records(folder, Filter(**given))
    copies = without_copies(folder, found)
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
@click.argument("folder", type=PATH)
@click.argument("lot")
@JSON
def recall(folder: Path, lot: str, *, as_json: bool) -> None:
    """Find the patients of the records in FOLDER whose device had LOT, practice apart.

    A lot that was corrected since is found as well, and told so. Signs between letters and digits do not count.
    What cannot be read is named: it may hold the lot. Exits with 8 where that is so.
    """
    every = list_records(folder, Filter())
    copies = without_copies(folder, every)
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
@PROCEDURE_FILE
@click.option("--allow-practice", is_flag=True, help="Let a practice record become FHIR; it stays marked.")
def export(record: Path, form: str, output: Path | None, procedure: Path | None, *, allow_practice: bool) -> None:
    """Pass RECORD on as a FHIR R4 bundle, a CSV of readings or a note for a chart.

    It is replayed first, as by verify: one whose values do not follow from what was heard is refused.
    """
    from handsfree.application.replaying import contradictions
    from handsfree.application.words_for_export import export_words

    words = partial(export_words, procedure=procedure)
    contradicted = contradictions(procedure, partial(click.echo, err=True))
    text = export_record(record, ExportForm(form), words, allow_practice=allow_practice, contradicted=contradicted)
    if output is None:
        click.echo(text, nl=False)
        return
    write_output(output, text)


@click.command()
@click.argument("folder", type=PATH)
@click.option("--output", type=PATH, required=True, help="Folder for the four files; made where it is not there.")
@click.option("--since", type=_DAY, help="First day (UTC).")
@click.option("--until", type=_DAY, help="Last day (UTC).")
@click.option("--practice/--no-practice", default=False, show_default=True, help="Take practice in as well, marked.")
def tables(folder: Path, output: Path, *, practice: bool, **wanted: datetime | None) -> None:
    """Write all readings and all light of the records in FOLDER as two long tables, each with its schema.

    readings.csv has one row a reading, light.csv one a zone; readings.schema.json and light.schema.json name type and
    meaning of each column. Each record counts once, and is replayed first. One that cannot be read, or whose values do
    not follow from what was heard, is left out and named; then it exits with 8.
    """
    from handsfree.application.store_tables import store_tables

    given = {name: f"{value:%Y-%m-%d}" for name, value in wanted.items() if value is not None}
    made = store_tables(folder, Filter(**given), practice=practice)
    make_output_folder(output)
    for name, text in made.files.items():
        write_output(output / name, text)
    _tell_copies(made.copies)
    click.echo(f"{output}: {made.records} records, {made.readings} readings, {made.zones} zones of light", err=True)
    if made.left_out:
        raise RecordError(f"left out: {'; '.join(map(one_line, made.left_out))}")
