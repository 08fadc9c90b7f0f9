"""More light, asked for from a step that holds the visit: back to the zone, and then to that step again."""

from handsfree.model.effects import Earcon
from handsfree.model.facts import MoreLightAsked
from handsfree.model.refusals import RefusalCode
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.state import answered_first
from handsfree.session.ways import may_give_more_light
from handsfree.session.zones import zones_of


def ask_more_light(now: EventContext) -> Reply:
    """Take "more light" with a zone: its seconds are asked for once more."""
    state, plan, zone_id = now.state, now.visit.plan, now.chosen
    hold = answered_first(state.holds)
    stage = next((one for one in plan.stages if zone_id in zones_of(one, state.ledger)), None)
    if stage is None or not may_give_more_light(plan, state, hold):
        return now.refuse(RefusalCode.NOT_ON_THE_LIST)
    now.ledger.ask_more(zone_id)
    state.left_zones.discard(zone_id)
    state.done.pop(stage.id, None)
    state.back_to = hold.stage_id
    asked = MoreLightAsked(
        stage=now.stage_name, zone=zone_id, target_s=round(now.ledger.target_s(zone_id), 3), heard=now.heard
    )
    return Reply([asked], [Earcon.RECORDED], Then.ENTER, stage)
