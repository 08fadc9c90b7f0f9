"""`handsfree soundcheck`: before the gloves go on, whether this person in this room will be understood."""

import json
import sys
from dataclasses import replace
from functools import partial
from pathlib import Path

import click

from handsfree.clock import SystemClock
from handsfree.errors import AudioDeviceError
from handsfree.options import CONFIG_DEFAULTS, ENGINE, JSON, LOUDSPEAKER, MICROPHONE, PATH


@click.command()
@click.option("--listen", type=PATH, help="A recording of the check instead of the microphone.")
@MICROPHONE
@LOUDSPEAKER
@ENGINE
@CONFIG_DEFAULTS
@JSON
def soundcheck(
    listen: Path | None, microphone: str | None, loudspeaker: str | None, engine: str | None, *, as_json: bool
) -> None:
    """Check, before the gloves go on, whether you will be understood in this room.

    Plays a test sound of six seconds, and finds out whether what is said while the tool speaks can be understood with
    these devices: by that `run` goes, and without a check only stop words act meanwhile. Then measures level, clipping,
    noise floor and signal-to-noise, asks for six short phrases and the ten digits, and says what to change.

    A recording for --listen holds three seconds of silence, then the phrases and the digits in the order in which this
    command asks for them, with a pause of a second after each.

    Exit code 6 if you would not be understood reliably.
    """
    from handsfree.application.sound_check import CheckVerdict, check_person, check_recording
    from handsfree.recognition.choose import make_recognizer

    recognizer = make_recognizer(engine)
    if listen is not None:
        from handsfree.audio.wav import read_wav

        found = check_recording(read_wav(listen), recognizer)
    else:
        from handsfree.application.echo_check import check_devices
        from handsfree.audio.microphone import Microphone

        tell = partial(click.echo, err=True)
        echo = check_devices(SystemClock(), microphone, loudspeaker, tell)
        with Microphone(SystemClock(), microphone) as source:
            found = replace(check_person(source, recognizer, tell), echo=echo)
    click.echo(json.dumps(found.data, indent=2) if as_json else "\n".join(found.lines))
    if found.verdict is CheckVerdict.NOT_RELIABLY:
        sys.exit(AudioDeviceError.exit_code)
