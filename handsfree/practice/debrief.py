"""A score in lines that can be read aloud in a debriefing. Pure."""

from collections.abc import Iterator

from handsfree.practice.critical_errors import CriticalError
from handsfree.practice.scoring import Score

CAUTION = (
    "A score is about this one attempt. It says nothing about a person: whether somebody may work alone is decided by "
    "an assessor, who signs."
)
RULES = {
    "kept_pushing": "kept trying to go on without an answer",
    "skip_asked": "tried to skip a required step",
    "light_early": "asked for the light too early",
    "light_in_shadow": "asked for the light with the strap on",
    "light_while_held": "asked for the light while held",
    "event_missed": "did not answer what happened",
    "event_wrong": "answered wrongly to what happened",
    "event_late": "ended the light too late",
    "left_to_others": "left the end of the light to somebody else",
    "settled_too_soon": "overrode before anybody could look",
    "wrong_side": "recorded the wrong side",
    "wrong_identity": "recorded a wrong code, which names another thing",
    "finding_missed": "recorded as good what stops the work",
    "hard_undone": "left required steps out",
}
"""What each rule is called."""


def score_lines(found: Score) -> Iterator[str]:
    """The score as text."""
    planned = found.planned
    who = planned.trainee or "no learner named"
    scripted = f", scripted {planned.scripted} learner" if planned.scripted else ""
    yield f"PRACTICE - {planned.title} ({planned.scenario} {planned.version}, {who}{scripted})"
    yield (
        f"{'pass' if found.passed else 'fail'}: {found.got} of {found.possible} points, {found.percent} %, "
        f"pass mark {found.pass_percent} %, by {found.table}"
    )
    if found.too_few:
        yield "fewer points than the pass mark"
    yield ""
    if found.faults:
        yield "FAILS WHATEVER THE POINTS"
        for rule, faults in _by_rule(found.faults).items():
            yield f"  {RULES[rule]}: {len(faults)}"
            yield from (f"    {_clock(fault.at_s)} {fault.text}" for fault in faults[:3])
            if len(faults) > 3:
                yield f"    and {len(faults) - 3} more"
        yield ""
    yield "WHAT HAPPENED"
    for one in found.reactions:
        yield f"  {_clock(one.at_s)} {one.event.id}: {one.verdict}, {one.note}"
        yield f"      {one.event.why} [{one.event.source}]"
    yield ""
    yield "POINTS"
    for item in found.items:
        of = f"of {item.possible:3d}" if item.possible else "lost  " if item.got else "      "
        yield f"  {item.got:3d} {of}  {item.label}{': ' + item.note if item.note else ''}"
    yield ""
    yield "TIME"
    for phase in found.phases:
        limit = f", at most {_clock(phase.most_s)}" if phase.most_s is not None else ""
        yield f"  {phase.phase}: {_clock(phase.seconds)}{limit}"
    yield "  " + ", ".join(f"{name} {count}" for name, count in found.counts.items())
    yield ""
    yield CAUTION


def _by_rule(faults: tuple[CriticalError, ...]) -> dict[str, list[CriticalError]]:
    found: dict[str, list[CriticalError]] = {}
    for fault in faults:
        found.setdefault(fault.rule, []).append(fault)
    return found


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes:02d}:{rest:02d}"
