"""How long a long record takes to verify, resume and show on this machine.

    python scripts/bench_long_records.py [--lines 100000] [--folder FOLDER]

Writes one invented visit through a real session, over and over: values given, read back, affirmed and given again,
notes, speech that was not taken, prompts said again. Measures in seconds of the processor, each once: verifying it,
handing its events to a new session, resuming it after a cut, and making its page; and the size of the page. Prints one
JSON object. To compare two versions run the script of one checkout with each in PYTHONPATH, one after the other.
"""

import argparse
import json
import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path += [str(ROOT), str(ROOT / "tests" / "record")]

from record_samples import START, wall  # noqa: E402
from record_visits import Visit  # noqa: E402

from handsfree.clock import ManualClock  # noqa: E402
from handsfree.model.commands import Control, ControlCommand, DictateText  # noqa: E402
from handsfree.model.events import CommandSpoken, RejectionReason, SpeechRejected  # noqa: E402
from handsfree.model.hypotheses import Hypothesis  # noqa: E402
from handsfree.record.comparison import differences  # noqa: E402
from handsfree.record.line_checking import RECORD_FILE  # noqa: E402
from handsfree.record.restore import restore  # noqa: E402
from handsfree.record.verify import verify  # noqa: E402
from handsfree.report.record_page import make_report  # noqa: E402
from handsfree.session.session import Session  # noqa: E402

PROCEDURE = "neurovascular-check"
NOTE_EVERY, VALUES_EVERY = 25, 5


def seconds(work: Callable[[], object]) -> float:
    """Seconds of the processor that something takes: on a machine with other work a clock on the wall says little."""
    begin = time.process_time()
    work()
    return round(time.process_time() - begin, 2)


def spoken(visit: Any, command: object, words: str, tags: tuple[str, ...]) -> None:  # noqa: ANN401 - of the tests
    """Say something a second later."""
    visit.wait(1.0)
    now_s = visit.now_s
    heard = Hypothesis(tuple(words.split()), tags, now_s - 0.5, now_s, "typed")
    visit.handle(CommandSpoken(at_s=now_s, wall=wall(now_s), command=command, heard=heard, probability=1.0))


def control(visit: Any, which: Control, words: str) -> None:  # noqa: ANN401
    """Say a command."""
    spoken(visit, ControlCommand(which), words, (f"control:{which.value}",))


def write(folder: Path, lines: int) -> None:
    """A visit of at least so many lines, left open."""
    visit = Visit(PROCEDURE, folder).start()
    values = next(line["say"] for line in visit.lines if "refill" in line["say"])
    while "refill" not in {slot.slot for slot in visit.session.wanted.slots}:
        visit.settle()
        step = visit.session.snapshot.step_id
        line = next((line for line in visit.lines if line["after"] == step), None)
        visit.wait(0.4)
        visit.say(line["say"] if line is not None else "affirmative")
        visit.settle()
    turn = 0
    path = folder / RECORD_FILE
    written = 0
    while written < lines:
        turn += 1
        control(visit, Control.SAY_AGAIN, "say again")
        visit.wait(1.0)
        visit.handle(SpeechRejected(at_s=visit.now_s, wall=wall(visit.now_s), reason=RejectionReason.NOT_UNDERSTOOD))
        control(visit, Control.STATUS, "status report")
        if turn % NOTE_EVERY == 0:
            control(visit, Control.TAKE_NOTE, "take note")
            spoken(visit, DictateText(f"padding checked {turn}"), f"padding checked {turn}", ())
            control(visit, Control.END_NOTE, "end note")
        if turn % VALUES_EVERY == 0:
            visit.say(values)
            visit.settle()
            control(visit, Control.PREVIOUS_STEP, "previous step")
            control(visit, Control.CORRECTION, "correction")
        if turn % 100 == 0:
            with path.open("rb") as file:
                written = sum(chunk.count(b"\n") for chunk in iter(lambda: file.read(1 << 20), b""))
    visit.journal.close()


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--lines", type=int, default=100_000)
    parser.add_argument("--folder", type=Path, help="an existing record of this script, or where to keep one")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = asked.folder or Path(name) / "long"
        if not (folder / RECORD_FILE).is_file():
            sync, os.fsync = os.fsync, lambda _: None
            write(folder, asked.lines)
            os.fsync = sync
        found = verify(folder)
        record = found.record
        if record is None:
            sys.exit(f"the record is broken: {found.faults[0]}")
        bundle = Visit(PROCEDURE, folder).bundle
        figures = {
            "lines": found.lines,
            "MB": round((folder / RECORD_FILE).stat().st_size / 1e6, 1),
            "readings": len(record.readings),
            "notes": len(record.notes),
            "verify s": seconds(lambda: verify(folder)),
            "replay s": seconds(lambda: differences(record, Session(bundle).handle)),
        }
        page: list[str] = []
        figures["page s"] = seconds(lambda: page.append(make_report(folder, sound=False)[0]))
        figures["page MB"] = round(len(page[0].encode()) / 1e6, 2)
        copy = Path(name) / "resumed"
        copy.mkdir()
        (copy / RECORD_FILE).write_bytes((folder / RECORD_FILE).read_bytes())
        figures["resume s"] = seconds(
            lambda: restore(copy, Session(bundle).handle, clock=ManualClock(START))[0].close()
        )
    print(json.dumps(figures, indent=2))


if __name__ == "__main__":
    main()
