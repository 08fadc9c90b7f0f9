#!/usr/bin/env python3
"""Write golden records of the present form: what later programs must be able to read.

    python scripts/make_golden_records.py [FOLDER]

They are the visits that the tests of the record work through, by typed lines on a clock of their own. Once a form was
given to users its golden records are never written anew: raise the form, and let this script write the next folder.
"""

import dataclasses
import gzip
import shutil
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

ROOT = Path(__file__).resolve().parent.parent
TESTS = ROOT / "tests" / "record"
sys.path[:0] = [str(ROOT), str(TESTS)]

from record_samples import START, wall  # noqa: E402
from record_visits import Visit  # noqa: E402

from handsfree.clock import ManualClock  # noqa: E402
from handsfree.model.commands import Command, Control, ControlCommand, DictateText  # noqa: E402
from handsfree.model.events import CommandSpoken, SessionEvent, SoundLost, SoundReturned  # noqa: E402
from handsfree.model.hypotheses import Hypothesis  # noqa: E402
from handsfree.record.amendments import amend, attest, change_of  # noqa: E402
from handsfree.record.clips import Retention  # noqa: E402
from handsfree.record.contents import Amended  # noqa: E402
from handsfree.record.header import FORM  # noqa: E402
from handsfree.record.line_checking import RECORD_FILE, read_lines  # noqa: E402
from handsfree.record.own_lines import EventLine  # noqa: E402
from handsfree.record.verify import verify  # noqa: E402

KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))


def clock(at_s: float) -> ManualClock:
    """A clock that stands at a time after the visit."""
    made = ManualClock(START)
    made.sleep_until(at_s)
    return made


def spoken(visit: Any, command: Command, words: str) -> None:  # noqa: ANN401 - of the tests
    """Say something a second later."""
    visit.wait(1.0)
    heard = Hypothesis(tuple(words.split()), (), visit.now_s - 0.5, visit.now_s, "typed")
    visit.handle(CommandSpoken(at_s=visit.now_s, wall=wall(visit.now_s), command=command, heard=heard, probability=1.0))


def controls(visit: Any, *given: Control) -> None:  # noqa: ANN401
    """Say commands without a value, one after the other."""
    for control in given:
        spoken(visit, ControlCommand(control), control.value.replace("_", " "))


def whole_fitting(folder: Path) -> None:
    """A fitting with everything in it: light, hot said, a hold, what was taught."""
    Visit("ulnar-fitting", folder).start().finish()


def amended_and_attested(folder: Path) -> None:
    """A check with a note, a lost loudspeaker, corrections, and two attestations."""
    visit = Visit("neurovascular-check", folder).start()
    controls(visit, Control.TAKE_NOTE)
    spoken(visit, DictateText("padding checked at the wrist"), "padding checked at the wrist")
    controls(visit, Control.END_NOTE, Control.STATUS, Control.HELP, Control.SAY_AGAIN, Control.WAIT, Control.RESUME)
    controls(visit, Control.OVERRIDE, Control.PREVIOUS_STEP, Control.LIGHT_OFF, Control.CORRECTION)
    visit.handle(SoundLost(at_s=visit.now_s, wall=wall(visit.now_s), what="loudspeaker"))
    visit.handle(SoundReturned(at_s=visit.now_s, wall=wall(visit.now_s), what="loudspeaker"))
    record = visit.finish().record
    refill = next(one.recorded.seq for one in record.readings if one.stands.field == "refill")
    pulse = next(one.recorded.seq for one in record.readings if one.stands.field == "pulse")
    note = record.notes[0].recorded.seq
    for at_s, (entry, member, text) in enumerate(
        ((refill, "value", "2.4"), (refill, "side", "right"), (pulse, "value", "not-performed")), start=4000
    ):
        change = change_of(folder, entry, member, text)
        amend(folder, entry, change, by="surgeon", reason="read off the wrong line", clock=clock(at_s), key=KEY)
    amend(folder, note, Amended(verified=True), by="surgeon", reason="read", clock=clock(4010), key=KEY)
    changed = Amended(text="padding checked at the thumb")
    amend(folder, note, changed, by="surgeon", reason="misheard", clock=clock(4011), key=KEY)
    attest(folder, KEY, by="surgeon", clock=clock(4100))
    unsure = change_of(folder, refill, "value", "2-3")
    amend(folder, refill, unsure, by="surgeon", reason="unsure", clock=clock(4200), key=KEY)
    attest(folder, KEY, by="technician", clock=clock(4300))


def ended_early_with_sound(folder: Path) -> None:
    """A check that is ended early, with open items and sound, and attested with a reason."""
    visit = Visit("neurovascular-check", folder).start()
    visit.journal.keep_clips = True
    hand_over = visit.handle

    def with_sound(event: SessionEvent) -> None:
        if isinstance(event, CommandSpoken):
            sound = bytes([int(event.at_s) % 256, 0]) * 800
            event = dataclasses.replace(event, heard=dataclasses.replace(event.heard, clip=sound))
        hand_over(event)

    visit.handle = with_sound
    for _ in range(4):
        visit.settle()
        line = next(line for line in visit.lines if line["after"] == visit.session.snapshot.step_id)
        visit.wait(0.4)
        visit.say(line["say"])
    visit.settle()
    controls(visit, Control.STOP, Control.OVERRIDE)
    procedure = visit.bundle.procedure
    for words in (next(iter(procedure.roles.values()))[0], next(iter(procedure.override_reasons.values()))[0]):
        visit.wait(1.0)
        visit.say(words)
    controls(visit, Control.AFFIRM)
    visit.journal.close()
    because = "seen in the emergency room"
    attest(folder, KEY, by="surgeon", open_items_because=because, retention=Retention.KEEP, clock=clock(5000))


def interrupted_and_resumed(folder: Path) -> None:
    """A check of the lamp that was cut off in a line, and went on."""
    lines = _lines_of_whole("light-output-check")
    folder.mkdir()
    (folder / RECORD_FILE).write_bytes(b"".join(lines[:20]) + lines[20][:40])
    Visit("light-output-check", folder).resume().finish()


def cut_inside_a_batch(folder: Path) -> None:
    """A check that ends with an event of which the last facts are missing."""
    lines = _lines_of_whole("neurovascular-check")
    stated = read_lines(b"".join(lines)).stated
    many = [seq for seq, one in enumerate(stated) if isinstance(one, EventLine) and one.facts >= 3]
    folder.mkdir()
    (folder / RECORD_FILE).write_bytes(b"".join(lines[: many[len(many) // 2] + 2]))


def _lines_of_whole(name: str) -> list[bytes]:
    with tempfile.TemporaryDirectory() as made:
        Visit(name, Path(made) / "whole").start().finish()
        return (Path(made) / "whole" / RECORD_FILE).read_bytes().splitlines(keepends=True)


RECORDS: dict[str, Callable[[Path], None]] = {
    "ulnar-fitting": whole_fitting,
    "amended-and-attested": amended_and_attested,
    "ended-early-with-sound": ended_early_with_sound,
    "interrupted-and-resumed": interrupted_and_resumed,
    "cut-inside-a-batch": cut_inside_a_batch,
}


def main() -> None:
    """Write them all, packed."""
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else TESTS / "golden" / f"form-{FORM}"
    for name, write in RECORDS.items():
        with tempfile.TemporaryDirectory() as made:
            folder = Path(made) / name
            write(folder)
            found = verify(folder)
            packed = target / name
            shutil.rmtree(packed, ignore_errors=True)
            packed.mkdir(parents=True)
            with gzip.GzipFile(packed / f"{RECORD_FILE}.gz", "wb", compresslevel=9, mtime=0) as file:
                file.write((folder / RECORD_FILE).read_bytes())
            if (folder / "record.end").exists():
                shutil.copyfile(folder / "record.end", packed / "record.end")
            if (folder / "clips").exists():
                shutil.copytree(folder / "clips", packed / "clips", copy_function=shutil.copyfile)
            sys.stdout.write(f"{name}: {found.state}, {found.lines} lines\n")


if __name__ == "__main__":
    main()
