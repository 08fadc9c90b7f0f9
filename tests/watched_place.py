"""Where the commands of a watched person run: own folders, and a procedure and a rehearsal of our own invention."""

import os
import shutil
import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from watched import ROOT, Watched, watch

from handsfree.errors import HandsfreeError
from handsfree.recognition.models import FOLDER_VARIABLE, locate

PROCEDURE = """\
form: 1
id: shelf
title: An invented look at a shelf
version: "1.0.0"
language: en-US
approved_by: null
sources: {book: "An invented handbook, 2020"}
cautions: [Invented.]
roles: {nurse: [ward nurse]}
skip_reasons: {declined: [patient declined]}
override_reasons: {senior: [senior agrees]}
steps:
  - id: place
    kind: choose
    phase: before
    prompt: Ward or home?
    expert: Where?
    hard: true
    source: book
    fields:
      - {id: place, label: place, options: {ward: [ward], home: [home]}}
  - id: bell
    kind: confirm
    phase: after
    prompt: Is the bell there?
    expert: Bell?
    hard: true
    source: book
"""
REHEARSAL = """\
scenario: 1
title: An invented look
procedure: {procedure}
seed: 3
tool_voice: neural
voices:
  clinician:
    engine: neural
lines:
  - after: place
    who: clinician
    say: ward
  - after: bell
    who: clinician
    say: affirmative
"""


@dataclass(frozen=True)
class Place:
    """The folders of a person who has never used the tool."""

    base: Path

    @property
    def home(self) -> Path:
        return self.base / "home"

    @property
    def work(self) -> Path:
        """Where commands are told to write."""
        return self.base / "work"

    @property
    def allowed(self) -> tuple[Path, ...]:
        own = (self.home / ".local" / "share" / "handsfree", self.home / ".cache" / "handsfree")
        return (*own, self.work, self.base / "temporary")

    @property
    def sound_server(self) -> tuple[Path, ...]:
        """What the libraries of the system's sound servers keep where a microphone or loudspeaker is looked for."""
        return (self.home / ".config" / "pulse", Path("/dev/shm/jack_db-0"), Path("/dev/snd"), Path("/dev/dsp"))  # noqa: S108

    def python(self, *arguments: str | Path, said: str = "", client: str = "") -> Watched:
        """Watch Python with these arguments."""
        environment = {
            "PATH": os.environ["PATH"],
            "HOME": str(self.home),
            "TMPDIR": str(self.base / "temporary"),
            "LANG": "C.UTF-8",
            "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "tests"))),
            # What Python keeps of modules beside them is written once, by whoever comes first.
            "PYTHONDONTWRITEBYTECODE": "1",
        } | _weights()
        # What another command may have left there would hide that this one leaves it too.
        shutil.rmtree(self.home / ".config", ignore_errors=True)
        scratch = self.base / f"seen-{len(list(self.base.glob('seen-*')))}"
        command = (sys.executable, *arguments)
        return watch(command, scratch, self.base / "elsewhere", environment, said, client)

    def handsfree(self, *arguments: str | Path, said: str = "", client: str = "") -> Watched:
        """Watch a command of the tool."""
        return self.python("-m", "handsfree", *arguments, said=said, client=client)


@cache
def _weights() -> dict[str, str]:
    """Where the weights are, which may be the data folder of whoever runs the tests."""
    try:
        return {FOLDER_VARIABLE: str(locate().parent)}
    except HandsfreeError:
        return {}
