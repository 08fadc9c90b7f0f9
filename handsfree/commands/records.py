"""`handsfree records` and `handsfree export`: find records and pass them on."""

import json
from dataclasses import asdict
from functools import partial
from pathlib import Path

import click

from handsfree.application.output_files import write_output
from handsfree.export.choose import ExportForm, export_transaction
from handsfree.export.choose import export as export_record
from handsfree.export.fhir_transaction import PATIENT_SYSTEM
from handsfree.options import JSON, PATH, PROCEDURE_FILE
from handsfree.record.display_text import one_line
from handsfree.record.store import Filter, list_records
from handsfree.record.verify import RecordState

_DAY = click.DateTime(["%Y-%m-%d"])


@click.command()
@click.argument("folder", type=PATH)
@click.option("--since", type=_DAY, help="First day (UTC).")
@click.option("--until", type=_DAY, help="Last day (UTC).")
@click.option("--state", type=click.Choice([state.value for state in RecordState]))
@click.option("--procedure", help="Identifier of the procedure.")
@click.option("--operator", help="Operator code.")
@click.option("--patient", help="Patient reference.")
@JSON
def records(folder: Path, *, as_json: bool, **wanted: object) -> None:
    """List the records in the subfolders of FOLDER, the oldest first."""
    given = {
        name: f"{value:%Y-%m-%d}" if name in ("since", "until") else str(value)
        for name, value in wanted.items()
        if value
    }
    found = list_records(folder, Filter(**given))
    if as_json:
        click.echo(json.dumps([asdict(item) for item in found], indent=2))
        return
    if not found:
        click.echo("no records", err=True)
    for item in found:
        practice = "practice" if item.practice else ""
        left = f"{item.open_items} open" if item.open_items else ""
        words = (item.started, item.state, item.procedure, item.operator, item.patient, practice, left, item.name)
        click.echo(one_line("  ".join(word for word in words if word)))


@click.command()
@click.argument("record", type=PATH)
@click.option("--to", "form", type=click.Choice([form.value for form in ExportForm]), required=True)
@click.option("--output", type=PATH, help="File to write; standard output where left out.")
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
    from handsfree.application.replaying import contradictions
    from handsfree.application.words_for_export import export_words

    words = partial(export_words, procedure=procedure)
    contradicted = contradictions(procedure, partial(click.echo, err=True))
    if server is not None:
        from handsfree.application.fhir_server import checked_server, read_token, send_transaction

        base, token = checked_server(server), read_token(token_file) if token_file is not None else None
        transaction = export_transaction(
            record,
            words,
            patient_system=patient_system or PATIENT_SYSTEM,
            allow_practice=allow_practice,
            contradicted=contradicted,
        )
        taken = send_transaction(base, transaction, token)
        click.echo(f"{base}: {taken.created} created, {taken.there} there already or updated")
        return
    text = export_record(record, ExportForm(form), words, allow_practice=allow_practice, contradicted=contradicted)
    if output is None:
        click.echo(text, nl=False)
        return
    write_output(output, text)
