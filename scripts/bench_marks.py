"""Marks of scripted learners against the order that was written down before: `tests/practice/trainers_order.yaml`.

Typed, so the recogniser has no part in it; bench_practice.py plays the same by sound. The people are scripted and the
order is a statement, not a measurement of trainers.

    .venv/bin/python scripts/bench_marks.py FOLDER [SCENARIO ...]

Records that lie in the folder already are scored again, not played again.
"""

import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import combinations
from pathlib import Path

from rich.console import Console
from ruamel.yaml import YAML

from handsfree.practice.points_form import load_points
from handsfree.practice.practised_visit import SoundOptions, practise_scripted
from handsfree.practice.scenario_loader import load_scenario
from handsfree.practice.scoring import Score, score
from handsfree.record.verify import verify

START = datetime(2026, 11, 25, 9, tzinfo=UTC)
ORDER = Path(__file__).parents[1] / "tests" / "practice" / "trainers_order.yaml"


def scored(scenario: str, learner: str, folder: Path) -> Score:
    """The score of a record that is there, or that is played now."""
    if not folder.exists():
        case = load_scenario(scenario)
        practise_scripted(case, folder, None, learner, START, Console(quiet=True), SoundOptions(), typed=True)
    record = verify(folder).record
    assert record is not None  # noqa: S101 - it was closed
    return score(record, load_points())


def pairs(order: dict) -> Iterator[tuple[str, str]]:
    """Pairs of learners of whom the first is to stand higher."""
    for above, below in combinations(order["tiers"], 2):
        yield from ((better, worse) for better in above for worse in below)
    yield from map(tuple, order.get("pairs", []))


def main() -> None:
    """The table of each scenario, then every pair that stands otherwise than written down."""
    folder, named = Path(sys.argv[1]), sys.argv[2:]
    orders = YAML(typ="safe").load(ORDER)["scenarios"]
    for scenario in named or list(orders):
        found = {
            learner: scored(scenario, learner, folder / f"{scenario}-{learner}")
            for tier in orders[scenario]["tiers"]
            for learner in tier
        }
        print(f"\n{scenario}")
        for learner, one in sorted(found.items(), key=lambda item: item[1].standing, reverse=True):
            rules = ", ".join(sorted({fault.rule for fault in one.faults})) or "none"
            passed = "pass" if one.passed else "fail"
            print(f"  {learner:11} {passed} {one.got:3} of {one.possible:3} ({one.percent:5.1f} %), faults: {rules}")
        unfounded = {tuple(one["pair"]): one["why"] for one in orders[scenario].get("unfounded", [])}
        wanted = list(pairs(orders[scenario]))
        other = [(a, b) for a, b in wanted if found[a].standing <= found[b].standing]
        print(f"  {len(wanted) - len(other)} of {len(wanted)} pairs as written down", flush=True)
        for better, worse in other:
            how = "level with" if found[better].standing == found[worse].standing else "below"
            why = f"; {unfounded[better, worse]}" if (better, worse) in unfounded else ""
            print(f"    {better} stands {how} {worse}{why}", flush=True)


if __name__ == "__main__":
    main()
