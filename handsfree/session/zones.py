"""Which zone is next."""

from handsfree.definition.plan import Stage
from handsfree.session.event_context import Turn


def zones_of_stage(turn: Turn, stage: Stage) -> tuple[str, ...]:
    """Identifiers of the zones that an expose stage lights."""
    if turn.ledger is None:
        return ()
    wanted = stage.step.zones == "strap"
    return tuple(zone.id for zone in turn.ledger.zones if zone.strap_shadowed is wanted)


def choose_zone(turn: Turn) -> None:
    """Propose the first zone of the stage that is short of its seconds, or its first one."""
    ids = zones_of_stage(turn, turn.stage)
    ledger = turn.ledger
    short = (zone_id for zone_id in ids if ledger is not None and ledger.short_s(zone_id) > 0)
    turn.state.zone_id = next(short, ids[0] if ids else None)


def zone_text(turn: Turn) -> str:
    """Name of the zone that is to be lit."""
    if turn.ledger is None or turn.state.zone_id is None:
        return ""
    label = next(zone.label for zone in turn.ledger.zones if zone.id == turn.state.zone_id)
    return f"Zone: {label}."
