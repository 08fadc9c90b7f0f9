"""`handsfree approve`: what changed in a procedure since it was approved, and its approval."""

import sys
from pathlib import Path

import click
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from handsfree.application.approvals import approval_of_bundle
from handsfree.application.output_files import write_output
from handsfree.authoring.approval_changes import changes_since
from handsfree.authoring.checks import check as check_file
from handsfree.authoring.findings import FindingLevel
from handsfree.clock import SystemClock
from handsfree.config import Config
from handsfree.definition.loader import Bundle, bundled_procedures, find_procedure, load_bundle
from handsfree.errors import ProcedureFileError, UsageError
from handsfree.model.approval import Approval, ApprovalState
from handsfree.options import CONFIG, KEY_FILE, typed_by_user
from handsfree.record.account_words import approval_words
from handsfree.record.approval_file import approval_of, approval_path, read_approval
from handsfree.record.display_text import one_line
from handsfree.record.signing import installation_key, public_hex
from handsfree.terminal_questions import ask_filled

_NOTHING = "nothing was approved; --name and --role approve it as it stands"


@click.command()
@click.argument("file")
@click.option("--name", help="Who approves, as the site writes it.")
@click.option("--role", help="In which role.")
@click.option("--unsigned", is_flag=True, help="Do not sign, though there is a key.")
@KEY_FILE
@CONFIG
def approve(file: str, name: str | None, role: str | None, key_file: Path, config: Config, *, unsigned: bool) -> None:
    """Show what changed in the procedure FILE since it was approved, and approve it as it stands.

    It covers the procedure with its blocks and profiles put in. The approval is a file beside it, NAME.approval.json;
    with any later change it counts no more, and every visit says so. It is signed where there is a signing key. On a
    terminal who approves is asked, and Ctrl-C or Ctrl-D leaves all as it was (exit code 130); elsewhere nothing is
    approved without --name and --role.
    """
    bundle = load_bundle(file)
    path = find_procedure(file)
    if bundle.procedure.id in bundled_procedures() and path == find_procedure(bundle.procedure.id):
        raise UsageError(f"{file} is a bundled example, which no site approves; copy it to a folder of your own first")
    _no_errors(file)
    stands = approval_of_bundle(bundle, config.approval.keys)
    _show(bundle, stands)
    asks = sys.stdin.isatty()
    if name is None and role is None and (stands.counts or not asks):
        told = "the approval counts; --name and --role approve it anew" if stands.counts else _NOTHING
        click.echo(told, err=True)
        return
    wanted = bundle.procedure.approved_by

    def wrong_role(said: str) -> str | None:
        fits = wanted is None or said == wanted
        return None if fits else f"approved_by in {file} asks for the role {wanted}, not {said}"

    if asks:
        name = ask_filled("Who approves it as it stands (name)") if name is None else name
        role = ask_filled("In which role", wrong=wrong_role) if role is None else role
    if not (name and name.strip() and role and role.strip()):
        raise UsageError("an approval has a --name and a --role")
    if fault := wrong_role(role.strip()):
        raise UsageError(fault)
    approval = approval_of(
        bundle.expanded,
        procedure=bundle.procedure.id,
        version=bundle.procedure.version,
        name=name.strip(),
        role=role.strip(),
        at=SystemClock().wall(),
        key=None if unsigned else _key(key_file, config),
    )
    target = approval_path(path)
    part = target.with_name(f"{target.name}.part")
    write_output(part, approval.text, private=False)
    part.replace(target)
    key = f"signed with key {approval.public_key}" if approval.signed else "not signed"
    click.echo(one_line(f"approved by {approval.name}, {approval.role}, {key}: {target}"))
    written = approval_of_bundle(load_bundle(file), config.approval.keys)
    if not written.counts:
        # Signed for another installation, whose configuration names the key.
        click.echo(f"here it does not count: {approval_words(written)} (name the key under [approval] keys)", err=True)


def _no_errors(file: str) -> None:
    errors = [one.as_line for one in check_file(file) if one.level is FindingLevel.ERROR]
    if errors:
        raise ProcedureFileError("\n".join(errors))


def _show(bundle: Bundle, stands: Approval) -> None:
    """How the approval stands, and what changed since it, in words and key by key."""
    click.echo(one_line(f"{bundle.procedure.title}, version {bundle.procedure.version}: {approval_words(stands)}"))
    if bundle.approval is None or stands.state is ApprovalState.UNREADABLE:
        click.echo("there is nothing to compare with: read all of it (handsfree card, handsfree chart)")
        return
    earlier = read_approval(bundle.approval)
    click.echo(
        one_line(f"last approved by {earlier.name}, {earlier.role}, on {earlier.day}, version {earlier.version}")
    )
    changes = changes_since(earlier.expanded, bundle)
    if not changes.keys:
        click.echo("nothing has changed since")
        return
    click.echo("In words:")
    for line in changes.words or ("only what the list below says",):
        click.echo(one_line(f"  {line}"))
    click.echo("Key by key:")
    for line in changes.keys:
        click.echo(one_line(f"  {line}"))
    if earlier.version == bundle.procedure.version:
        click.echo(f"the version is still {earlier.version}: raise it, so that records tell the two apart", err=True)


def _key(key_file: Path, config: Config) -> Ed25519PrivateKey | None:
    """The key that signs: none is made for an approval unless it was asked for by name."""
    if not key_file.is_file() and not typed_by_user("key_file"):
        if config.approval.keys:
            raise UsageError(f"the site has keys for approvals, and {key_file} is none; give --key-file")
        return None
    key = installation_key(key_file)
    if config.approval.keys and public_hex(key) not in config.approval.keys:
        raise UsageError(f"{key_file} is not a key that the site names under [approval] keys; give --key-file")
    return key
