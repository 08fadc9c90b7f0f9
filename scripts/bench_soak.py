"""What hours of work leave behind: memory, open files, bytes on the disk, and how long the end of it takes.

    python scripts/bench_soak.py [--hours 4]

Twice so many hours on a clock that is only counted. First whole visits one after the other in one process: the
rehearsal scripts by their meaning, through the runner of a session. Then one visit that stays open all the time: a
status is asked for each half minute, a note taken each ten minutes, and speech that is not for the tool comes in
between. Prints a line for each half hour, then the seconds of the processor that it takes to verify, replay and resume
the long visit. One JSON object ends the output.
"""

import argparse
import gc
import itertools
import json
import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path += [str(ROOT), str(ROOT / "tests" / "record"), str(ROOT / "tests" / "report")]

from record_samples import START, wall  # noqa: E402
from record_visits import Visit  # noqa: E402
from report_visits import rehearsed  # noqa: E402

from handsfree.clock import ManualClock  # noqa: E402
from handsfree.model.events import RejectionReason, SpeechRejected  # noqa: E402
from handsfree.record.comparison import differences  # noqa: E402
from handsfree.record.restore import restore  # noqa: E402
from handsfree.record.verify import verify  # noqa: E402
from handsfree.session.session import Session  # noqa: E402

SCRIPTS = (
    *("ulnar-fitting", "neurovascular-check", "thumb-fitting", "light-output-check", "wrist-fitting"),
    *("splint-removal", "thermometer-calibration"),
)
HALF_HOUR_S = 1800.0
PROCEDURE = "neurovascular-check"


def memory_mb() -> float:
    """Resident memory of this process."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return round(pages * os.sysconf("SC_PAGE_SIZE") / 1e6, 1)


def open_files() -> int:
    """Handles of this process."""
    return len(os.listdir("/proc/self/fd"))  # noqa: PTH208 - names only


def written_mb(place: Path) -> float:
    """Bytes of all files in a folder."""
    return round(sum(path.stat().st_size for path in place.rglob("*") if path.is_file()) / 1e6, 3)


def told(simulated_s: float, place: Path, what: str) -> dict[str, object]:
    """Print how things stand."""
    gc.collect()
    row: dict[str, object] = {
        "hours": round(simulated_s / 3600, 2),
        "memory MB": memory_mb(),
        "open files": open_files(),
        "objects": len(gc.get_objects()),
        "written MB": written_mb(place),
        "so far": what,
    }
    print("  ".join(f"{name} {value}" for name, value in row.items()), flush=True)
    return row


def visits(place: Path, hours: float) -> list[dict[str, object]]:
    """Visits one after the other."""
    done_s, due_s = 0.0, HALF_HOUR_S
    rows = [told(0, place, "nothing")]
    for number, name in enumerate(itertools.cycle(SCRIPTS), start=1):
        done_s += rehearsed(name, place / f"{number:04}-{name}").clock.monotonic_s()
        if done_s >= due_s:
            rows.append(told(done_s, place, f"{number} visits"))
            due_s = (done_s // HALF_HOUR_S + 1) * HALF_HOUR_S
        if done_s >= hours * 3600:
            return rows
    return rows


def one_visit(folder: Path, hours: float) -> list[dict[str, object]]:
    """A visit that stays open; nobody answers what it asks."""
    visit = Visit(PROCEDURE, folder).start()
    visit.say("practice session")
    rows = [told(visit.now_s, folder, "begun")]
    for turn in range(1, round(hours * 120) + 1):
        visit.wait(turn * 30 - visit.now_s)
        visit.say("status report")
        visit.handle(SpeechRejected(at_s=visit.now_s, wall=wall(visit.now_s), reason=RejectionReason.NOT_UNDERSTOOD))
        if turn % 20 == 0:
            for line in ("take note", f"padding looked at {turn}", "end note"):
                visit.say(line)
        if turn % 60 == 0:
            rows.append(told(visit.now_s, folder, f"{turn} times asked"))
    visit.journal.close()
    return rows


def seconds(work: Callable[[], object]) -> float:
    """Seconds of the processor that something takes: on a machine with other work a clock on the wall says little."""
    begin = time.process_time()
    work()
    return round(time.process_time() - begin, 2)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--hours", type=float, default=4.0)
    asked = parser.parse_args()
    sync, os.fsync = os.fsync, lambda _: None
    with tempfile.TemporaryDirectory() as name:
        store, long = Path(name) / "store", Path(name) / "long"
        store.mkdir()
        many = visits(store, asked.hours)
        broken = [path.name for path in sorted(store.iterdir()) if not verify(path).fine]
        one = one_visit(long, asked.hours)
        os.fsync = sync
        found = verify(long)
        if broken or found.record is None:
            sys.exit(f"broken: {broken or found.faults[0]}")
        record, bundle = found.record, Visit(PROCEDURE, long).bundle
        figures = {
            "visits": many,
            "one visit": one,
            "lines": found.lines,
            "MB": written_mb(long),
            "verify s": seconds(lambda: verify(long)),
            "replay s": seconds(lambda: differences(record, Session(bundle).handle)),
            "resume s": seconds(lambda: restore(long, Session(bundle).handle, clock=ManualClock(START))[0].close()),
        }
    print(json.dumps(figures, indent=2))


if __name__ == "__main__":
    main()
