"""Scripted learners in the practice scenarios, by sound through the real recogniser: who passes, who fails, and why.

All voices are synthesized: the figures say nothing about people.

    .venv/bin/python scripts/bench_practice.py FOLDER [SCENARIO[:LEARNER] ...]
"""

import sys
import time
from datetime import UTC, datetime
from pathlib import Path

from rich.console import Console

from handsfree.errors import HandsfreeError
from handsfree.practice.points_form import load_points
from handsfree.practice.practised_visit import SoundOptions, practise_scripted
from handsfree.practice.scenario_loader import bundled_scenarios, load_scenario
from handsfree.practice.scoring import score
from handsfree.record.verify import verify

USUAL = ("good", "hasty", "forgetful")
"""The other learners are played typed (bench_marks.py)."""
START = datetime(2026, 11, 25, 9, tzinfo=UTC)


def play(scenario: str, learner: str, folder: Path) -> str:
    """One visit; a line about it."""
    begun = time.perf_counter()
    case = load_scenario(scenario)
    try:
        visit = practise_scripted(case, folder, None, learner, START, Console(quiet=True), SoundOptions(), typed=False)
    except HandsfreeError as error:
        return f"{scenario:12} {learner:10} did not end: {error}"
    record = verify(folder).record
    assert record is not None  # noqa: S101 - it was closed just now
    found = score(record, load_points())
    rules: dict[str, int] = {}
    for fault in found.faults:
        rules[fault.rule] = rules.get(fault.rule, 0) + 1
    told = ", ".join(f"{rule} {count}" for rule, count in sorted(rules.items())) or "none"
    answers = ", ".join(f"{one.event.id} {one.verdict}" for one in found.reactions)
    return (
        f"{scenario:12} {learner:10} {'pass' if found.passed else 'fail'} {found.got} of {found.possible} "
        f"({found.percent} %), faults: {told}; {answers}; {visit.utterances} utterances, "
        f"{visit.taken_again} said again, {visit.duration_s / 60:.1f} min in {time.perf_counter() - begun:.0f} s"
    )


def main() -> None:
    """All scenarios with the usual learners, or those that are named."""
    folder = Path(sys.argv[1])
    wanted = sys.argv[2:] or list(bundled_scenarios())
    for name in wanted:
        scenario, _, learner = name.partition(":")
        for one in [learner] if learner else USUAL:
            print(play(scenario, one, folder / f"{scenario}-{one}"), flush=True)


if __name__ == "__main__":
    main()
