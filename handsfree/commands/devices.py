"""`handsfree devices`: which microphones and loudspeakers there are."""

import json
from dataclasses import asdict

import click

from handsfree.options import JSON


@click.command()
@JSON
def devices(*, as_json: bool) -> None:
    """List sound devices by the names that --microphone and --loudspeaker take; a part of a name is enough."""
    from handsfree.audio.devices import list_devices

    found = list_devices()
    if as_json:
        click.echo(json.dumps([asdict(device) for device in found], indent=2))
        return
    for title, channels, default in (
        ("microphones", "inputs", "default_input"),
        ("loudspeakers", "outputs", "default_output"),
    ):
        click.echo(f"{title}:")
        fit = [device for device in found if getattr(device, channels)]
        for device in fit:
            usual = "  (the system's default)" if getattr(device, default) else ""
            click.echo(f"  {device.name}  [{device.interface}, {device.rate_hz:g} Hz]{usual}")
        if not fit:
            click.echo("  none")
