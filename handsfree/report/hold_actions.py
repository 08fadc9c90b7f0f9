"""What the tool told to do when something held a visit, made again from the facts. Pure.

A fact of a hold keeps why, by code. What to do follows from that, and for a red finding from the step of the procedure;
the words are those of the catalogue, or of the procedure where it has its own.
"""

from collections.abc import Iterator, Sequence
from itertools import groupby

from handsfree.definition.loader import Bundle
from handsfree.definition.plan import SideRole
from handsfree.model.facts import HoldLifted, HoldSet, SideDeclared
from handsfree.model.readings import Side
from handsfree.model.reasons import AnswersDiffer, BetweenSizes, CheckOverdue, HeatWordSaid, PainOverLimit
from handsfree.record.contents import Record, RecordedFact
from handsfree.report.procedure_at_hand import very_version
from handsfree.session.holds import red_action
from handsfree.session.prompts.fixed import HoldAction
from handsfree.session.prompts.wording import Wording


def told_at_holds(record: Record, bundle: Bundle | None) -> dict[int, str]:
    """What was told at each hold, by its line; a line is missing where only a procedure that is not at hand tells it.

    Args:
        record: The record.
        bundle: Its procedure, where at hand; used only if it is of the very version.
    """
    same = very_version(record, bundle)
    wording = Wording(own=same.procedure.sentences if same is not None else None)
    told: dict[int, str] = {}
    injured = next((one.fact.side for one in reversed(record.of(SideDeclared))), None)
    for seq, deciding in _deciding(record):
        action = _action(deciding, same, injured)
        if isinstance(action, HoldAction):
            told[seq] = wording.sentence(action)
        elif action is not None:
            told[seq] = action
    return told | dict(record.told_at_holds)


def _deciding(record: Record) -> Iterator[tuple[int, HoldSet]]:
    """Line of each hold, with the one whose action was told then: heat's own, else a red one, else the oldest."""
    standing: list[HoldSet] = []
    for _, listed in groupby(record.of(HoldSet, HoldLifted), key=lambda one: one.event_seq):
        new: list[RecordedFact[HoldSet]] = []
        for one in listed:
            match one.fact:
                case HoldSet() as held:
                    new.append(RecordedFact(one.seq, one.at, held, one.event_seq, one.clip_sha256))
                    standing.append(held)
                case HoldLifted() as lifted:
                    standing = _without(standing, lifted)
        for recorded in new:
            heat = isinstance(recorded.fact.grounds.ground, HeatWordSaid | PainOverLimit)
            # One that was lifted as it was set, because it was meant from the start, is told by itself.
            first = next((held for held in standing if held.hold == "red"), next(iter(standing), recorded.fact))
            yield recorded.seq, recorded.fact if heat else first


def _without(standing: Sequence[HoldSet], lifted: HoldLifted) -> list[HoldSet]:
    same = [held for held in standing if (held.hold, held.grounds) == (lifted.hold, lifted.grounds)]
    return [held for held in standing if not same or held is not same[0]]


def _action(held: HoldSet, bundle: Bundle | None, injured: Side | None) -> HoldAction | str | None:
    """What to do about a hold; None where only its procedure tells it and that is not at hand."""
    match held.grounds.ground:
        case HeatWordSaid() | PainOverLimit():
            return HoldAction.LIGHT_OFF_LOOK
        case AnswersDiffer():
            return HoldAction.FIND_OUT
        case BetweenSizes():
            return HoldAction.ASK_WHICH_SIZE
        case CheckOverdue():
            return HoldAction.CHECK_LIGHT
        case _ if held.hold == "stop":
            return HoldAction.DO_NOT_GO_ON
    if bundle is None:
        return None
    named, _, side = held.stage.partition("@")
    role = SideRole.OTHER if side in list(Side) and injured is not None and side != injured else None
    step = next((one for one in bundle.procedure.steps if one.id == named), None)
    return red_action(step, role) if step is not None else None
