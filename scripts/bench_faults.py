"""What becomes of visits that are killed, of records that are corrupted, and of a review that is attacked.

    python scripts/bench_faults.py [--kills 1000] [--corruptions 2000] [--sockets 200] [--seed N] [--parallel 2]

Kills: real `handsfree run --typed` processes are ended by SIGKILL at random moments, resumed, and brought to their end;
no answer may be lost that the tool had called recorded, and none may stand twice. Corruptions: finished records are
changed in every named kind and must be found by `verify`, by `--key` and by `--head` as the README says. Requests: what
nobody with the page would send, and half-open connections, against a review in a process of its own. A part with
0 is left out. Ends with 1 where anything was not as it must be. A thousand kills take an hour on a small machine.
"""

import argparse
import contextlib
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

ROOT = Path(__file__).resolve().parent.parent
sys.path += [str(ROOT), str(ROOT / "scripts"), str(ROOT / "tests" / "record")]

import faults_kills  # noqa: E402
from faults_corruptions import missed, table, try_kinds  # noqa: E402
from faults_forgeries import KINDS  # noqa: E402
from faults_records import Records, sounded  # noqa: E402
from faults_requests import Target, try_half_open, try_requests  # noqa: E402

SEED = 20261129


def kills(count: int, seed: int, parallel: int) -> list[str]:
    """Print what became of killed visits. Returns what was not as it must be."""
    found = faults_kills.run(count, seed, parallel=parallel)
    print(
        f"kills {found.killed} (seed {seed}, {found.begun} before the first line, {found.resuming} of resumed visits), "
        f"visits brought to their end {found.finished}, torn ends set aside {found.torn}\n"
        f"answers called recorded {found.acknowledged}, lost {len(found.lost)}, twice {len(found.twice)}",
        flush=True,
    )
    return [*found.lost, *found.twice, *found.wrong]


def corruptions(count: int, seed: int) -> list[str]:
    """Print how many corruptions of each kind were found. Returns those that the guide says are found and were not."""
    sync, os.fsync = os.fsync, lambda _: None
    try:
        with tempfile.TemporaryDirectory() as name:
            found = try_kinds(KINDS, Records.make(Path(name)), Path(name), count, seed)
    finally:
        os.fsync = sync
    print("\n".join(table(KINDS, found)))
    print(f"corruptions {sum(one.tried for one in found.values())} of {len(KINDS)} kinds (seed {seed})", flush=True)
    return missed(KINDS, found)


@contextlib.contextmanager
def reviewed() -> Iterator[Target]:
    """A review of a new record, in a process of its own."""
    with tempfile.TemporaryDirectory() as name:
        folder = sounded(Path(name) / "r")
        command = [sys.executable, "-m", "handsfree", "review", str(folder), "--no-browser"]
        process = subprocess.Popen([*command, "--key-file", f"{name}/key"], stdout=subprocess.PIPE, text=True)
        try:
            address = urlsplit(process.stdout.readline().strip() if process.stdout is not None else "")
            yield Target(address.port or 0, address.path.strip("/"), folder)
            if process.poll() is not None:
                raise ValueError(f"the review ended with {process.returncode}")
        finally:
            process.kill()
            process.communicate()


def requests(sockets: int) -> list[str]:
    """Print what became of requests and connections. Returns what was not as it must be."""
    with reviewed() as at:
        half = try_half_open(at, sockets)
        sent = try_requests(at)
    wrong = [*half.wrong, *sent.wrong]
    print(
        f"requests {sent.requests}, half-open connections {half.sockets}, not as they must be {len(wrong)}", flush=True
    )
    return wrong


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--corruptions", type=int, default=2000)
    parser.add_argument("--sockets", type=int, default=200)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--parallel", type=int, default=2)
    asked = parser.parse_args()
    wrong = requests(asked.sockets) if asked.sockets else []
    wrong += corruptions(asked.corruptions, asked.seed) if asked.corruptions else []
    wrong += kills(asked.kills, asked.seed, asked.parallel) if asked.kills else []
    for line in wrong:
        print(f"NOT AS IT MUST BE: {line}")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
