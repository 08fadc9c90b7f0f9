"""Counts of the recognition benches, with intervals."""

import statistics
from dataclasses import dataclass, field

import numpy as np
from bench_sounds import Heard, Item
from bench_tasks import OTHER, Task, is_question
from intervals import share

from handsfree.understanding.acceptance import DecisionOutcome


@dataclass
class Tally:
    """Counts of one engine over items."""

    n: int = 0
    top1_right: int = 0
    accepted_right: int = 0
    accepted_wrong: int = 0
    rejected: int = 0
    asked: int = 0
    nonspeech_n: int = 0
    false_accepts: int = 0
    false_asks: int = 0

    def add(self, task: Task, item: Item, heard: Heard, end_s: float) -> None:
        """Count one item: `rejected` is all that was not accepted, `asked` the part of it that led to a question."""
        expected = task.expected(item.spoken) if item.spoken not in ("", OTHER) else None
        commands = [(task.command(hypothesis), hypothesis) for hypothesis, _, _ in heard.hypotheses if hypothesis.words]
        outcomes = [(command, task.outcome(hypothesis, command)) for command, hypothesis in commands if command]
        accepted = [command for command, outcome in outcomes if outcome is DecisionOutcome.ACCEPT]
        asked = any(outcome is DecisionOutcome.ASK for _, outcome in outcomes)
        if expected is None:
            self.nonspeech_n += 1
            self.false_accepts += bool(accepted)
            self.false_asks += asked and not accepted
            return
        self.n += 1
        of_item = [task.command(hypothesis) for hypothesis, _, _ in heard.of_item(end_s) if hypothesis.words]
        self.top1_right += of_item == [expected]
        open_right = not accepted and [command for command, _ in outcomes] == [expected] and is_question(expected)
        right = accepted == [expected] or (open_right and asked)
        wrong = any(command != expected for command in accepted) or len(accepted) > 1
        self.accepted_right += right and not wrong
        self.accepted_wrong += wrong
        self.rejected += not right and not wrong
        self.asked += asked and not right and not wrong


@dataclass
class Report:
    """All that is known of one engine."""

    total: Tally = field(default_factory=Tally)
    groups: dict[str, dict[str, Tally]] = field(default_factory=dict)
    latency_ms: list[float] = field(default_factory=list)
    compute_ms: list[float] = field(default_factory=list)
    sound_s: float = 0.0
    busy_s: float = 0.0

    def add(self, task: Task, item: Item, heard: Heard, end_s: float) -> None:
        """Take one item in."""
        tallies = [self.total, self._group("per_speaker", item.speaker)]
        tallies += [self._group("per_group", item.group)] if item.group else []
        for tally in tallies:
            tally.add(task, item, heard, end_s)
        self.sound_s += heard.sound_s
        self.busy_s += heard.busy_s
        if item.spoken and (of_item := heard.of_item(end_s)):
            _, at_s, spent_s = of_item[-1]
            self.latency_ms.append(1000 * (at_s + spent_s - end_s))
            self.compute_ms.append(1000 * heard.longest_s)

    def _group(self, kind: str, name: str) -> Tally:
        return self.groups.setdefault(kind, {}).setdefault(name, Tally())

    def as_json(self, peak_memory_mb: float | None = None) -> dict[str, object]:
        """Counts, not rates; memory only where a process was measured."""
        memory = {} if peak_memory_mb is None else {"peak_memory_mb": round(peak_memory_mb, 1)}
        return {
            **vars(self.total),
            "latency_ms": _spread(self.latency_ms),
            "compute_ms": _spread(self.compute_ms),
            "real_time_factor": round(self.busy_s / self.sound_s, 4) if self.sound_s else None,
            **memory,
            **{kind: {name: vars(tally) for name, tally in found.items()} for kind, found in self.groups.items()},
        }


def _spread(values: list[float]) -> dict[str, float | None]:
    if not values:
        return {"median": None, "p95": None}
    return {"median": round(statistics.median(values), 1), "p95": round(float(np.percentile(values, 95)), 1)}


def table(name: str, data: dict[str, object]) -> list[str]:
    """One engine's figures in lines."""
    count = {key: value for key, value in data.items() if isinstance(value, int)}
    lines = [f"{name}"]
    kinds = ("top1_right", "accepted_right", "accepted_wrong", "rejected", "asked")
    lines += [f"  {key.replace('_', ' '):15} {share(count[key], count['n'])}" for key in kinds]
    lines.append(f"  {'false accepts':15} {share(count['false_accepts'], count['nonspeech_n'])}")
    lines.append(f"  {'end to result':15} {data['latency_ms']} ms, of which computing {data['compute_ms']} ms")
    memory = f", peak memory {data['peak_memory_mb']} MB" if "peak_memory_mb" in data else ""
    lines.append(f"  {'real time':15} {data['real_time_factor']}{memory}")
    for kind in ("per_speaker", "per_group", "per_class"):
        found = data.get(kind)
        if isinstance(found, dict) and len(found) <= 24:
            lines += [
                f"    {who:20} n {one['n']:4} top-1 {one['top1_right']:4} accepted right {one['accepted_right']:4} "
                f"wrong {one['accepted_wrong']:3} false {one['false_accepts']}/{one['nonspeech_n']}"
                for who, one in found.items()
            ]
    return lines
