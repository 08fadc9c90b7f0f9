"""What the screen for the room shows at a moment, as JSON: words and figures, ready to be put in their places. Pure."""

from handsfree.display.screen_layout import ScreenPicture, lit_s_now
from handsfree.model.effects import Json
from handsfree.model.light import ZoneStanding, standing_of
from handsfree.session.snapshot import PhaseItem, Snapshot, ZoneView

MOST_ITEMS = 6
"""Open steps that are listed. Chosen here, no source: more do not fit in letters that are read from two metres."""
MOST_VALUES = 6
_OUTCOMES = {
    "accepted": ("taken", "taken"),
    "doubted": ("asked", "asked about"),
    "not taken": ("refused", "not taken"),
    "not for me": ("passed", "not for the tool"),
}
_MODES = {
    "paused": "paused",
    "noting": "taking a note",
    "doubting": "is that what was said?",
    "reading_back": "said back: is it so?",
    "checking": "said back: is it so?",
    "reconfirm": "position: is it still so?",
    "cried": "hot or painful?",
    "override_role": "override: who answers for it?",
    "override_reason": "override: why?",
    "override_code": "override: whose code?",
    "override_confirm": "override: is it so?",
    "misheard": "was the first value misheard?",
    "skip_reason": "left out: why?",
    "open_items": "open at the end",
    "late_heat": "heat, asked again",
    "warmth": "how warm is it?",
}
"""What the session is doing, where the step alone does not say it."""


def room_state(picture: ScreenPicture) -> dict[str, Json]:
    """Everything that the page shows."""
    minutes, seconds = divmod(int(max(0.0, picture.now_s)), 60)
    kind, outcome = _OUTCOMES.get(picture.outcome, ("", picture.outcome))
    found: dict[str, Json] = {
        "clock": f"{minutes:02d}:{seconds:02d}",
        "prompt": picture.said,
        "urgent": picture.urgent,
        "heard": picture.heard,
        "heard_kind": kind,
        "heard_word": outcome,
        "listening": "speaking" if picture.deaf else "listening",
        "notice": picture.notice,
        "step": "",
        "closed": False,
    }
    if picture.snapshot is not None:
        found |= _of_snapshot(picture, picture.snapshot)
    return found


def _of_snapshot(picture: ScreenPicture, snapshot: Snapshot) -> dict[str, Json]:
    lit = next((zone for zone in snapshot.zones if zone.lit), None)
    open_items = [_item_words(item) for item in snapshot.items if not item.done]
    values = snapshot.said_back or snapshot.standing
    return {
        "step": snapshot.step,
        "phase": snapshot.phase,
        "doing": _MODES.get(snapshot.mode, ""),
        "progress": f"{snapshot.done} of {snapshot.total}",
        "practice": snapshot.practice,
        "closed": snapshot.mode == "closed",
        "side": snapshot.side.value if snapshot.side is not None else "",
        "say": snapshot.hint.removeprefix("say "),
        "hold": snapshot.hold or "",
        "light": "on" if lit is not None else "maybe" if snapshot.may_be_lit else "off",
        "lit": _lit(picture, lit, snapshot.zones) if lit is not None else None,
        "zones": [zone_row(picture, at, zone) for at, zone in enumerate(snapshot.zones, start=1)],
        "light_begun": any(zone.lit or zone.lit_s for zone in snapshot.zones),
        "items_done": f"{sum(item.done for item in snapshot.items)} of {len(snapshot.items)}",
        "items": [*open_items[:MOST_ITEMS]],
        "items_more": max(0, len(open_items) - MOST_ITEMS),
        "values_kind": "said back" if snapshot.said_back else "stands unless you object" if values else "",
        "values": [[one.label, one.value] for one in values[-MOST_VALUES:]],
        "values_more": max(0, len(values) - MOST_VALUES),
    }


def _item_words(item: PhaseItem) -> str:
    return f"{item.words}: {', '.join(item.missing)}" if item.missing else item.words


def _standing_word(zone: ZoneView, lit_s: float, standing: ZoneStanding) -> str:
    """What a zone's seconds come to, in a word; never more than arithmetic."""
    if standing is ZoneStanding.OVER or (zone.lit and lit_s > zone.target_s):
        return "over"
    if zone.lit:
        return "lit"
    if standing is ZoneStanding.REACHED:
        return "reached"
    if lit_s > 0:
        return "short"
    return "strap" if zone.strap_shadowed else ""


def zone_row(picture: ScreenPicture, at: int, zone: ZoneView) -> dict[str, Json]:
    """A zone of the picture and of the list beside it."""
    lit_s = lit_s_now(picture, zone)
    standing = standing_of(lit_s, zone.target_s, zone.tolerance_s, zone.over_from_s)
    return {
        "id": zone.id,
        "number": at,
        "name": zone.label,
        "seconds": f"{lit_s:.1f}/{zone.target_s:g} s" if lit_s else f"0/{zone.target_s:g} s",
        "word": _standing_word(zone, lit_s, standing),
        "share": round(lit_s / zone.target_s, 4) if zone.target_s > 0 else 0.0,
        "kind": standing.value if lit_s > 0 else "dark",
        "lit": zone.lit,
    }


def _lit(picture: ScreenPicture, zone: ZoneView, zones: tuple[ZoneView, ...]) -> dict[str, Json]:
    lit_s = lit_s_now(picture, zone)
    return {
        "name": zone.label,
        "number": next(at for at, one in enumerate(zones, start=1) if one.id == zone.id),
        "seconds": f"{lit_s:.1f}",
        "target": f"{zone.target_s:g}",
        "share": round(lit_s / zone.target_s, 4) if zone.target_s > 0 else 0.0,
        "over": f"{lit_s - zone.target_s:.1f}" if lit_s > zone.target_s else "",
    }
