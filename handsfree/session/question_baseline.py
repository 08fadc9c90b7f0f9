"""A stop where the earlier record is of another patient or side, as soon as both are known. Part of `after_handler`."""

from handsfree.model.baseline import MEANT_FROM_THE_START, Difference
from handsfree.model.facts import HoldLifted, HoldSet
from handsfree.model.reasons import Grounds
from handsfree.session.baseline_fit import unanswered
from handsfree.session.context import EventContext, Reply
from handsfree.session.prompts.fixed import HoldAction
from handsfree.session.prompts.hold_sentences import HeldFor
from handsfree.session.set_hold import set_hold
from handsfree.session.state import Hold
from handsfree.session.visit import name_of


def question_baseline(now: EventContext, reply: Reply) -> None:
    """Hold the visit until somebody says whether the earlier record is meant; said at the start, it is only told."""
    baseline = now.visit.baseline
    for difference in list(unanswered(now.visit, now.state)):
        grounds = Grounds(difference)
        if baseline is not None and baseline.meant:
            _meant_from_the_start(now, reply, difference)
        else:
            set_hold(now, reply, Hold("stop", now.stage.id, grounds, HoldAction.DO_NOT_GO_ON))


def _meant_from_the_start(now: EventContext, reply: Reply, difference: Difference) -> None:
    now.state.baseline_answers[difference] = True
    grounds = Grounds(difference)
    reply.facts += [
        HoldSet(hold="stop", stage=name_of(now.stage, now.state.side), grounds=grounds),
        HoldLifted(hold="stop", grounds=grounds, role=None, reason=MEANT_FROM_THE_START, code=None, heard=None),
    ]
    reply.say(HeldFor((grounds,)))
