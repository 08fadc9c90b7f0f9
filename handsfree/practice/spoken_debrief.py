"""What a learner hears right after the session: at most two things to work on, said calmly. Pure.

Not a verdict: whether it was passed, and every mark, stand on the page. What is said is what to do next time.
"""

from collections.abc import Iterator

from handsfree.practice.points_form import Points
from handsfree.practice.scoring import Score, ScoreItem

MOST_THINGS = 2
NOTHING = "Practice is over. I found nothing to work on in what was recorded. Your trainer has seen more than I have."
_OF_RULES = {
    "kept_pushing": "Answer each question before you go on. Say next step only when it is offered.",
    "skip_asked": "Required steps stay in. If one cannot be done, say why, and call somebody.",
    "light_early": "Finish what the light needs before you say light on.",
    "light_in_shadow": "Take the strap off, and say strap off, before you say light on.",
    "light_while_held": "While I hold, leave the light off. Look first.",
    "left_to_others": "Say light off yourself, first of all, also when somebody else's word has ended the light.",
    "settled_too_soon": "When I hold, take your time to look at the skin before you override.",
    "wrong_side": "Read the side from the paper, the mark and the patient each time, and compare.",
    "wrong_identity": "Compare each code with the package, letter by letter, before you say affirmative.",
    "finding_missed": "Say what you find as it is, also when it stops the work.",
    "hard_undone": "Some required steps were left open. Go through to the end, or end the visit with its reason.",
}
_OF_ROWS = {
    "value": "Compare the read-back with what you see before you say affirmative.",
    "false_finding": "Say only what you found. A finding that is not there stops the work for nothing.",
    "zone": "Say light off when you hear the cue, not before and not later.",
    "prompts": "Read through the steps once more before the next practice. You asked for many of them again.",
    "pushing": "Answer the question before you say next step.",
    "late_step": "Keep to the order of the steps.",
    "soft_step": "Do the steps that may be left out, too, unless there is a reason.",
}


def spoken_debrief(found: Score, points: Points) -> tuple[str, ...]:
    """The sentences to say, one after the other."""
    things = list(dict.fromkeys(_things(found, points)))[:MOST_THINGS]
    if not things:
        return (NOTHING,)
    count = "One thing" if len(things) == 1 else "Two things"
    first = f"Practice is over. {count} to work on."
    return (first, *(f"{name}: {text}" for name, text in zip(("First", "Second"), things, strict=False)))


def _things(found: Score, points: Points) -> Iterator[str]:
    """What there is to work on, the gravest first: what fails the attempt, then what cost most points."""
    whys = {one.event.id: one.event.why for one in found.reactions}
    grave = sorted(found.faults, key=lambda fault: -points.gravity.rules.get(fault.rule, 1))
    for fault in grave:
        event = fault.text.partition(":")[0]
        if fault.rule in _OF_RULES:
            yield _OF_RULES[fault.rule]
        elif event in whys:
            yield whys[event]
    for item in sorted(found.items, key=_cost, reverse=True):
        if _cost(item) > 0:
            event = item.label.removeprefix("answer to ")
            yield whys[event] if item.row == "reaction" else _OF_ROWS[item.row]


def _cost(item: ScoreItem) -> int:
    return item.possible - item.got
