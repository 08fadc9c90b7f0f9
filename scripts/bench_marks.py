"""Marks of scripted learners against the order that three points of view would give: `tests/practice/trainers/`.

Each of the three was written separately from one brief, before any of these attempts was scored, by somebody who saw
neither marks nor points nor the other two. No real trainer was asked: the orders are statements, not a measurement of
people. Typed, so the recogniser has no part in it; bench_practice.py plays scripted learners by sound.

    .venv/bin/python scripts/bench_marks.py FOLDER [SCENARIO ...]

Records that lie in the folder already are scored again, not played again.
"""

import sys
from collections.abc import Mapping
from datetime import UTC, datetime
from itertools import combinations
from pathlib import Path
from typing import Any

from rich.console import Console
from ruamel.yaml import YAML

from handsfree.practice.points_form import load_points
from handsfree.practice.practised_visit import SoundOptions, practise_scripted
from handsfree.practice.scenario_loader import load_scenario
from handsfree.practice.scoring import Score, score
from handsfree.record.verify import verify

START = datetime(2026, 11, 25, 9, tzinfo=UTC)
TRAINERS = Path(__file__).parents[1] / "tests" / "practice" / "trainers"
VIEWS = ("therapist", "instructor", "reviewer")
ENOUGH = 2
"""So many of the three put a pair that way, and none the other way: then it is wanted."""

Order = dict[str, Any]
"""One point of view: for each scenario tiers of learners, best first, and pairs that are left open."""


def brief() -> dict[str, Any]:
    """What each of the three was given."""
    return _read("brief")


def orders() -> dict[str, Order]:
    """The three orders, by point of view."""
    return {view: _read(view) for view in VIEWS}


def _read(name: str) -> dict[str, Any]:
    found: dict[str, Any] = YAML(typ="safe").load(TRAINERS / f"{name}.yaml")
    return found


def wanted(scenario: str, orders: Mapping[str, Order]) -> list[tuple[str, str]]:
    """Pairs of learners of whom the first is to stand higher.

    At least two of the three put it that way, and none the other way. Who has both in one tier, or leaves the pair
    open, abstains.
    """
    found = []
    for pair in combinations(brief()["learners"], 2):
        said = [_put(order["scenarios"][scenario], pair) for order in orders.values()]
        found += [
            (better, worse)
            for better, worse in (pair, pair[::-1])
            if said.count((better, worse)) >= ENOUGH and (worse, better) not in said
        ]
    return found


def _put(order: Order, pair: tuple[str, str]) -> tuple[str, str] | None:
    """A pair as one point of view puts it, better one first; None where it abstains."""
    if any(set(one["pair"]) == set(pair) for one in order.get("open") or ()):
        return None
    tier = {learner: place for place, tier in enumerate(order["tiers"]) for learner in tier}
    one, other = pair
    if tier[one] == tier[other]:
        return None
    return pair if tier[one] < tier[other] else (other, one)


def scored(scenario: str, learner: str, folder: Path) -> Score:
    """The score of a record that is there, or that is played now."""
    if not folder.exists():
        case = load_scenario(scenario)
        practise_scripted(case, folder, None, learner, START, Console(quiet=True), SoundOptions(), typed=True)
    record = verify(folder).record
    assert record is not None  # noqa: S101 - it was closed
    return score(record, load_points())


def main() -> None:
    """The table of each scenario, then every pair that stands otherwise than wanted."""
    folder, named = Path(sys.argv[1]), sys.argv[2:]
    views, asked = orders(), brief()
    all_wanted = all_so = 0
    for scenario in named or list(asked["scenarios"]):
        found = {learner: scored(scenario, learner, folder / f"{scenario}-{learner}") for learner in asked["learners"]}
        print(f"\n{scenario}")
        for learner, one in sorted(found.items(), key=lambda item: item[1].standing, reverse=True):
            rules = ", ".join(sorted({fault.rule for fault in one.faults})) or "none"
            passed = "pass" if one.passed else "fail"
            print(
                f"  {learner:11} {passed} {one.got:3} of {one.possible:3} ({one.percent:5.1f} %), "
                f"gravity {one.gravity}, faults: {rules}"
            )
        pairs = wanted(scenario, views)
        other = [(a, b) for a, b in pairs if found[a].standing <= found[b].standing]
        all_wanted, all_so = all_wanted + len(pairs), all_so + len(pairs) - len(other)
        print(f"  {len(pairs) - len(other)} of {len(pairs)} wanted pairs", flush=True)
        for better, worse in other:
            how = "level with" if found[better].standing == found[worse].standing else "below"
            said = ", ".join(v for v in VIEWS if _put(views[v]["scenarios"][scenario], (better, worse)))
            print(f"    {better} stands {how} {worse} (wanted by {said})", flush=True)
    print(f"\n{all_so} of {all_wanted} wanted pairs in all")


if __name__ == "__main__":
    main()
