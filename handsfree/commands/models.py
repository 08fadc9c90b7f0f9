"""`handsfree models`: what recognisers there are, and putting their weights in place."""

import json
from pathlib import Path

import click

from handsfree.options import JSON, PATH
from handsfree.recognition import models as store
from handsfree.recognition.choose import hearing


@click.group("models")
def models() -> None:
    """Weights of the recognisers: list, install, verify."""


@models.command("list")
@JSON
def list_(*, as_json: bool) -> None:
    """Show every model that can be used, the default first."""
    heard = hearing()
    rows = [
        {
            "id": model.id,
            "engine": model.engine,
            "language": model.language,
            "licence": model.licence,
            "default": model.default,
            "installed": store.is_installed(model.id),
            "hears": heard.get(model.id, []),
        }
        for model in store.list_models()
    ]
    if as_json:
        click.echo(json.dumps(rows, indent=2))
        return
    for model, row in zip(store.list_models(), rows, strict=True):
        state = "installed" if row["installed"] else "not installed"
        mark = " (default)" if row["default"] else ""
        use = f", hears {', '.join(heard[model.id])}" if model.id in heard else ""
        click.echo(f"{row['id']}{mark}: {row['engine']}, {row['language']}, {row['licence']}, {state}{use}")


@models.command("install")
@click.argument("model_id", required=False)
@click.option("--from", "source", type=PATH, help="A wheel, zip file or folder instead of the network.")
def install(model_id: str | None, source: Path | None) -> None:
    """Put a model in place and check every file's SHA-256.

    Without MODEL_ID the default one and, unless --from is given, those that are advised beside it. Of these, one that
    cannot be fetched is named, and the exit code stays 0: all works without it, and more answers are asked about.
    """
    click.echo(f"installed: {store.install(model_id, source).name}", err=True)
    if model_id is not None or source is not None:
        return
    for advised, error in store.install_advised().items():
        if error is None:
            click.echo(f"installed: {advised}", err=True)
        else:
            click.echo(f"not installed: {advised} ({error}); all works without it, and more is asked about", err=True)


@models.command("verify")
@click.argument("model_id", required=False)
def verify(model_id: str | None) -> None:
    """Check every file of an installed model against its SHA-256."""
    click.echo(f"verified: {store.verify(model_id).name}")
