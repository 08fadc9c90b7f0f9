"""How fast records are written and listed on this machine.

    python scripts/bench_records.py [--records 10000] [--days 400] [--appends 500] [--folder FOLDER]

Writes one short invented visit into many folders, each a record of its own, spread over days; lists them all and folds
one day of them without an index, then from the index, and from one that was damaged; and appends batches with an fsync
each. Prints one JSON object. The folder decides which disk is measured.
"""

import argparse
import json
import statistics
import tempfile
import time
import unittest.mock
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import partial
from pathlib import Path

from handsfree.clock import ManualClock
from handsfree.model.commands import Control, ControlCommand
from handsfree.model.effects import Append
from handsfree.model.events import CommandSpoken
from handsfree.model.facts import ReadingConfirmed, StepEntered, Utterance, VisitClosed
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import Exact, Side, Timing
from handsfree.model.reasons import Severity
from handsfree.record.contents import RecordHeader
from handsfree.record.copies import without_copies
from handsfree.record.journal import Journal
from handsfree.record.store import Filter, RecordFolder, list_records
from handsfree.record.store_index import INDEX_FILE
from handsfree.record.verify import verify
from handsfree.report.day import day_of
from handsfree.report.store_sums import SumBy, sums
from handsfree.stamps import stamp

HEADER = RecordHeader(
    record_id="bench",
    procedure="invented",
    title="An invented procedure",
    procedure_sha256="0" * 64,
    practice=True,
    versions={},
    patient_reference="DEMO-0001",
)
CLOSING = VisitClosed(outcome="completed", open_items=(), zones=(), practice=True, stages_done=3, notes=0)
FIRST = datetime(2026, 1, 5, 9, tzinfo=UTC)
WALL = "2026-11-25T09:00:00.000Z"


def batch(number: int) -> tuple[CommandSpoken, list[Append]]:
    """One accepted utterance with a confirmed reading, of the size that sessions write."""
    heard = Hypothesis(("affirmative",), ("control:affirm",), float(number), number + 0.6, "bench")
    event = CommandSpoken(
        at_s=float(number), wall=WALL, command=ControlCommand(Control.AFFIRM), heard=heard, probability=0.99
    )
    said = Utterance(
        text="one point five", probability=0.98, runner_up=None, engine="bench", spoken_from_s=1.0, spoken_to_s=2.0
    )
    reading = ReadingConfirmed(
        stage="circulation@left",
        step="circulation",
        phase="before",
        field="refill",
        label="refill",
        side=Side.LEFT,
        timing=Timing.BASELINE,
        value=Exact(Decimal("1.5"), 1),
        unit="s",
        severity=Severity.NONE,
        grounds=None,
        asked=False,
        heard=said,
        read_back="affirmed",
    )
    return event, [Append(reading), Append(StepEntered(stage="next", step="next", phase="before", again=False))]


def seconds(work: Callable[[], object]) -> float:
    """How long something takes."""
    begin = time.perf_counter()
    work()
    return time.perf_counter() - begin


def fill(root: Path, count: int, days: int) -> None:
    """Make a store of many records, each of its own, over so many days."""
    no_sync = lambda _: None  # noqa: E731 - what is measured is reading; nobody waits for the disk here
    with unittest.mock.patch("os.fsync", no_sync):
        for number in range(count):
            begun = FIRST + timedelta(days=number % days)
            header = replace(HEADER, record_id=f"bench-{number}", started=stamp(begun))
            with Journal.create(root / f"{number:06}", header, clock=ManualClock(begun)) as journal:
                for one in range(3):
                    journal.append(*batch(one))
                journal.append(None, [Append(CLOSING)])


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--records", type=int, default=10_000)
    parser.add_argument("--days", type=int, default=400)
    parser.add_argument("--appends", type=int, default=500)
    parser.add_argument("--folder", type=Path, help="where the records go; the folder of temporary files if left out")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=asked.folder) as name:
        store = Path(name) / "store"
        store.mkdir()
        fill(store, asked.records, asked.days)
        lines = verify(store / "000000").lines
        without = seconds(lambda: list_records(store))
        day = FIRST.date()
        day_without = seconds(lambda: day_of(store, day))
        day_indexed = [seconds(lambda: day_of(store, day)) for _ in range(5)]
        visits = len(day_of(store, day).visits)
        summed = [
            seconds(
                lambda: sums(without_copies(list_records(store), RecordFolder(store).goes_on_from).once, SumBy.OPERATOR)
            )
            for _ in range(5)
        ]
        indexed = [seconds(lambda: list_records(store)) for _ in range(5)]
        begin_cpu = time.process_time()
        list_records(store)
        cpu = time.process_time() - begin_cpu
        filtered = [
            seconds(lambda: list_records(store, Filter(since="2026-11-25", state="complete"))) for _ in range(5)
        ]
        (store / INDEX_FILE).write_bytes(b"no index at all")
        rebuilt = seconds(lambda: list_records(store))
        with Journal.create(Path(name) / "appended", HEADER) as journal:
            appended = [seconds(partial(journal.append, *batch(number))) for number in range(asked.appends)]
        verified = seconds(lambda: verify(Path(name) / "appended"))
    ordered = sorted(appended)
    print(
        json.dumps(
            {
                "records": asked.records,
                "lines a record": lines,
                "list without index s": round(without, 3),
                "list with index s, best of 5": round(min(indexed), 3),
                "list with index s, worst of 5": round(max(indexed), 3),
                "list with index, processor s": round(cpu, 3),
                "filtered list s, best of 5": round(min(filtered), 3),
                "sums by operator with index s, worst of 5": round(max(summed), 3),
                "list with a damaged index, which is made anew, s": round(rebuilt, 3),
                "visits of the day": visits,
                "day with the list's index alone s": round(day_without, 3),
                "day with index s, best of 5": round(min(day_indexed), 3),
                "day with index s, worst of 5": round(max(day_indexed), 3),
                "appends": asked.appends,
                "append and fsync ms, median": round(1000 * statistics.median(ordered), 2),
                "append and fsync ms, 99 of 100": round(1000 * ordered[int(0.99 * (len(ordered) - 1))], 2),
                "append and fsync ms, longest": round(1000 * ordered[-1], 2),
                "verify ms a line": round(1000 * verified / (3 * asked.appends + 1), 3),
            },
            indent=2,
        )
    )


if __name__ == "__main__":
    main()
