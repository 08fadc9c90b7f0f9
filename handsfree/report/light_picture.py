"""The light that was given, on the picture of the hand. Pure."""

from dataclasses import dataclass

from markupsafe import Markup

from handsfree.definition.loader import Bundle
from handsfree.drawing.hand_picture import ZoneShown, caption, hand_picture, zones_in_order
from handsfree.model.facts import SideDeclared, ZoneSum
from handsfree.record.contents import Record
from handsfree.record.display_text import tenths


@dataclass(frozen=True, slots=True)
class LightPicture:
    """The picture.

    Attributes:
        drawing: The picture, with a text for who does not see it.
        caption: Whose hand it shows, and how.
        zones: The numbers in it with the names of their zones.
    """

    drawing: Markup
    caption: str
    zones: tuple[tuple[int, str], ...]


def light_picture(record: Record, bundle: Bundle | None) -> LightPicture | None:
    """The picture, where the procedure at hand is the very one of the record; else another's zones would be drawn."""
    if bundle is None or bundle.device is None or bundle.sha256 != record.header.procedure_sha256:
        return None
    declared = record.last(SideDeclared)
    side = declared.side if declared is not None else None
    shown = {zone.zone: _shown(zone) for zone in record.zones}
    zones = zones_in_order(bundle.device)
    return LightPicture(
        hand_picture(bundle.device, side, shown, name="light-hand"),
        caption(bundle.device, side),
        tuple((at, zone.name) for at, zone in enumerate(zones, start=1)),
    )


def _shown(zone: ZoneSum) -> ZoneShown:
    seconds = f"{tenths(zone.lit_s)} of {tenths(zone.target_s)} s"
    if zone.lit_s <= 0:
        return ZoneShown(0.0, None, f"{seconds}, dark")
    share = zone.lit_s / zone.target_s if zone.target_s > 0 else 0.0
    return ZoneShown(share, zone.standing, f"{seconds}, {zone.standing.value}")
