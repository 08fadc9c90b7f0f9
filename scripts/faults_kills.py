"""Real typed visits, killed at random moments and resumed: is anything lost that the tool had called recorded?

A killed process leaves what it gave to the system: this counts what the program forgets, not what a disk does when the
power goes (`tests/record/test_record_syncing.py` holds the order of writes).
"""

import random
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from record_visits import Mirror, Visit, ending, scenario

from handsfree.application.replaying import verify_and_replay
from handsfree.model.effects import Append, Earcon, PlayEarcon
from handsfree.model.facts import ItemTaught, ReadingConfirmed, StepConfirmed
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.verify import RecordState, verify

PROCEDURES = ("light-output-check", "neurovascular-check", "thermometer-calibration")
"""Typed lines come at once: visits in which nobody waits for light."""
RECORDED = "sound * recorded"
Answer = tuple[str, ...]
_RENDERING = threading.Lock()
LONGEST_S = 300


@dataclass
class Kills:
    """What became of the visits.

    Attributes:
        killed: Processes ended by SIGKILL.
        begun: Of these, before the first line of the record.
        resuming: Of these, while or after an earlier kill was being made good.
        acknowledged: Confirmed answers that the tool had called recorded.
        lost: Of these, not in the record afterwards; what each was.
        twice: Answers that stand in a finished record more than once.
        finished: Visits that came to their end.
        wrong: What else was not as it must be, in words.
    """

    killed: int = 0
    begun: int = 0
    resuming: int = 0
    acknowledged: int = 0
    lost: list[str] = field(default_factory=list)
    twice: list[str] = field(default_factory=list)
    finished: int = 0
    torn: int = 0
    wrong: list[str] = field(default_factory=list)

    def add(self, other: "Kills") -> None:
        """Count those of another run as well."""
        for name, value in vars(other).items():
            setattr(self, name, getattr(self, name) + value)


class Acknowledged(Mirror):  # type: ignore[misc] - of the tests
    """Says the lines that are still to be typed, and what each sound of "recorded" will be about."""

    def __init__(self, name: str, folder: Path) -> None:
        super().__init__(name, folder)
        self.answers: list[list[Answer]] = []

    def handle(self, event: Any) -> None:  # noqa: ANN401 - as the base has it
        """Take down what is confirmed with a sound; what is on file already is replayed here too, and dropped."""
        seen = self.session.handle
        effects: list[Any] = []
        self.session.handle = lambda given: effects.extend(seen(given)) or effects
        super().handle(event)
        del self.session.handle
        facts = [effect.fact for effect in effects if isinstance(effect, Append)]
        if any(isinstance(effect, PlayEarcon) and effect.earcon is Earcon.RECORDED for effect in effects):
            self.answers.append([answer for fact in facts for answer in answers_of(fact)])

    def lines_and_answers(self) -> tuple[list[str], list[list[Answer]]]:
        """Lines from where the record stands, and the answers that each sound is about."""
        known = 0
        say = self.say

        def first(text: str) -> None:
            nonlocal known
            known, self.say = len(self.answers), say
            say(text)

        self.say = first
        lines = self.rest()
        return lines, self.answers[known:]


def answers_of(fact: object) -> Iterator[Answer]:
    """A confirmed answer, by its place and what it is."""
    match fact:
        case ReadingConfirmed(stage=stage, field=name, side=side, value=value):
            yield "reading", stage, name, str(side), repr(value)
        case StepConfirmed(stage=stage):
            yield "step", stage
        case ItemTaught(item=item):
            yield "taught", item


def recorded(folder: Path) -> list[Answer]:
    """The confirmed answers of a record."""
    record = verify(folder).record
    return [answer for item in record.facts for answer in answers_of(item.fact)] if record is not None else []


def begin(name: str, folder: Path, *, resume: bool) -> subprocess.Popen[str]:
    """A visit in a process of its own."""
    command = ["run", scenario(name)[1].procedure.id, "--typed", "--practice", "--record", str(folder)]
    return subprocess.Popen(
        [sys.executable, "-m", "handsfree", *command, *(["--resume"] if resume else [])],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def killed(process: subprocess.Popen[str], lines: list[str], rng: random.Random) -> tuple[str, str]:
    """Type everything, then kill at a random moment: by the clock, or right after a line was shown."""
    stdin, stdout = process.stdin, process.stdout
    if stdin is None or stdout is None:
        raise ValueError("a visit needs pipes")
    try:
        stdin.write("".join(f"{line}\n" for line in lines))
        stdin.flush()
    except BrokenPipeError:
        pass
    output = ""
    if rng.random() < 0.3:
        time.sleep(rng.random() * 2.5)
    else:
        for _ in range(rng.randint(1, 30)):
            line = stdout.readline()
            output += line
            if not line:
                break
        time.sleep(rng.random() * 0.01)  # anywhere between and inside writes
    process.kill()
    rest, errors = process.communicate(timeout=LONGEST_S)
    return output + rest, errors


def one_visit(name: str, folder: Path, rng: random.Random, most: int) -> Kills:
    """One visit, killed up to so many times and resumed until it is closed."""
    found = Kills()
    sure: list[Answer] = []
    while True:
        resume = (folder / RECORD_FILE).exists() and verify(folder).record is not None
        with _RENDERING:
            lines, answers = Acknowledged(name, folder).lines_and_answers()
        process = begin(name, folder, resume=resume)
        if found.killed < most:
            output, errors = killed(process, lines, rng)
        else:
            output, errors = process.communicate("".join(f"{line}\n" for line in lines), timeout=LONGEST_S)
        if errors:
            found.wrong.append(f"{name}: {errors.strip().splitlines()[-1]}")
        said = output.count(RECORDED)
        if said > len(answers):
            found.wrong.append(f"{name}: {said} sounds of recorded where {len(answers)} are due")
        newly = [answer for each in answers[:said] for answer in each]
        found.acknowledged += len(newly)
        sure += newly
        there = recorded(folder) if (folder / RECORD_FILE).exists() else []
        found.lost += [f"{name}: {' '.join(answer)}" for answer in newly if answer not in there]
        state = verify(folder).state if (folder / RECORD_FILE).exists() else None
        if process.returncode == -9:
            found.killed += 1
            found.begun += not there and not resume
            found.resuming += resume
        elif state is not RecordState.COMPLETE:
            found.wrong.append(f"{name}: ended with {process.returncode}, the record is {state}")
            return found
        if state is RecordState.COMPLETE:
            break
    found.torn = len(list(folder.glob("torn-*.bin")))
    _ended(found, name, folder, sure)
    return found


def _ended(found: Kills, name: str, folder: Path, sure: list[Answer]) -> None:
    """What a finished record must show: every answer once, the end of an uninterrupted visit, facts that follow."""
    found.finished += 1
    there = recorded(folder)
    found.lost += [f"{name}, at the end: {' '.join(answer)}" for answer in sure if answer not in there]
    found.twice += [f"{name}: {' '.join(answer)}" for answer in sorted(set(there)) if there.count(answer) > 1]
    with _RENDERING, tempfile.TemporaryDirectory() as place:
        whole = Visit(name, Path(place) / "whole").start().finish()
        checked, _ = verify_and_replay(folder)
        if ending(checked.record) != ending(whole.record):
            found.wrong.append(f"{name}: the record ends otherwise than that of an uninterrupted visit")
    found.wrong += [f"{name}: {fault}" for fault in checked.faults]


def run(kills: int, seed: int, *, parallel: int = 2, each: int = 25, place: Path | None = None) -> Kills:
    """Kill so many processes.

    Args:
        kills: How many, at least; a visit that was begun is brought to its end.
        seed: Of all random moments.
        parallel: Visits at a time.
        each: Kills of one visit, at most.
        place: Where the records go.
    """
    total, lock = Kills(), threading.Lock()
    numbers = iter(range(1_000_000))

    def work() -> None:
        while True:
            with lock:
                if total.killed >= kills:
                    return
                number = next(numbers)
            rng = random.Random(f"{seed} {number}")  # noqa: S311 - moments, no secrets
            with tempfile.TemporaryDirectory(dir=place) as name:
                most = min(each, max(1, kills - total.killed))
                one = one_visit(PROCEDURES[number % len(PROCEDURES)], Path(name) / "r", rng, most)
            with lock:
                total.add(one)

    with ThreadPoolExecutor(parallel) as pool:
        for done in [pool.submit(work) for _ in range(parallel)]:
            done.result()
    return total
