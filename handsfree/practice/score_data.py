"""A score as data for other programs."""

from dataclasses import asdict

from handsfree.practice.scoring import Score


def score_data(found: Score) -> dict[str, object]:
    """A score as JSON-ready data."""
    return {
        "scenario": found.planned.scenario,
        "trainee": found.planned.trainee,
        "scripted": found.planned.scripted,
        "difficulty": found.planned.difficulty,
        "passed": found.passed,
        "gravity": found.gravity,
        "points": found.got,
        "possible": found.possible,
        "percent": found.percent,
        "table": found.table,
        "faults": [asdict(fault) for fault in found.faults],
        "items": [asdict(item) for item in found.items],
        "reactions": [
            {"event": one.event.id, "at_s": one.at_s, "seconds": one.seconds, "verdict": one.verdict, "note": one.note}
            for one in found.reactions
        ],
        "phases": [asdict(phase) for phase in found.phases],
        "counts": found.counts,
    }
