"""The hand with the zones of a device on it, as SVG: schematic, ours, mirrored for the other side. Pure.

The hand is drawn in the frame in which profiles give their outlines (`definition.profile_form.FRAME`). Zones without an
outline stand in a row below it, and the picture says that their place is not drawn.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from markupsafe import Markup, escape

from handsfree.definition.profile_form import FRAME, DeviceProfile, ZoneRow
from handsfree.model.light import ZoneStanding
from handsfree.model.readings import Side

WIDTH, HEIGHT = FRAME
_ROW = 26.0
"""Height of a row of zones without a place."""
_PER_ROW = 4
_FINGERS: tuple[tuple[float, tuple[tuple[float, float], ...]], ...] = (
    (11.5, ((38.5, 68), (34, 26))),
    (12, ((48.5, 64), (48.5, 15))),
    (11.5, ((59, 66), (62.5, 22))),
    (10, ((69, 73), (77, 40))),
    (12.5, ((41, 102), (27, 90), (15, 66))),
)
"""Widths and joints: index, middle, ring and little finger, thumb."""
_PALM = ((38, 70), (48, 66), (59, 67), (70, 75), (69, 92), (61, 116), (61, 158), (40, 158), (40, 116), (36, 96))
_HAND_FROM, _HAND_TO = 6.0, 86.0
_ROUND = 7.0
_LINE = 1.6
_SKIN, _INK, _GROUND, _LIGHT = "#f3e7db", "#3b3430", "#ffffff", "#f2b705"


@dataclass(frozen=True, slots=True)
class ZoneShown:
    """How a zone of the picture stands.

    Attributes:
        share: Credited seconds over the target, 0 or more.
        standing: What that comes to; None while nothing was lit.
        words: The same in words, for who does not see the picture: "4.0 of 6 s, short".
    """

    share: float
    standing: ZoneStanding | None
    words: str


NOTHING_LIT: Mapping[str, ZoneShown] = {}


def is_mirrored(device: DeviceProfile, side: Side | None) -> bool:
    """Whether the frame is turned over: a left hand from its back, or a right one from its palm."""
    return (side is Side.LEFT) != (device.seen_from == "palm")


def zones_in_order(device: DeviceProfile) -> tuple[ZoneRow, ...]:
    """The zones as they are numbered in the picture, from 1: in the order of work."""
    return tuple(sorted(device.zones, key=lambda zone: zone.order))


def caption(device: DeviceProfile, side: Side | None) -> str:
    """Whose hand is seen from where, in words."""
    whose = f"{side.value} hand" if side is not None else "hand, side not said yet, drawn as a right one"
    return f"{whose}, {device.seen_from} of it, schematic"


def hand_picture(
    device: DeviceProfile,
    side: Side | None,
    shown: Mapping[str, ZoneShown] = NOTHING_LIT,
    *,
    name: str = "hand",
    alone: bool = False,
) -> Markup:
    """The picture as an SVG element.

    Args:
        device: The profile with its outlines.
        side: The side that is worn; None where nobody has said it.
        shown: How zones stand, by identifier; a zone that is left out is drawn dark.
        name: Begins the identifiers in it, unique on its page.
        alone: Whether it is a file of its own.
    """
    mirrored = is_mirrored(device, side)
    zones = zones_in_order(device)
    placed = [(at, zone) for at, zone in enumerate(zones, start=1) if zone.outline is not None]
    others = [(at, zone) for at, zone in enumerate(zones, start=1) if zone.outline is None]
    rows = -(-len(others) // _PER_ROW)
    height = HEIGHT + (rows * _ROW + 10 if others else 0)
    dark = ZoneShown(0.0, None, "dark")
    words = "; ".join(f"{at} {zone.name}: {shown.get(zone.id, dark).words}" for at, zone in enumerate(zones, start=1))
    turned = Markup(' transform="translate({:g} 0) scale(-1 1)"').format(WIDTH) if mirrored else Markup("")
    xmlns = Markup(' xmlns="http://www.w3.org/2000/svg"') if alone else Markup("")
    left, right = _seen(zones, mirrored=mirrored)
    parts = [
        Markup('<svg class="hand"{} viewBox="{:g} 4 {:g} {:g}" role="img" aria-labelledby="{}-title">').format(
            xmlns, left, right - left, height - 4, name
        ),
        Markup('<title id="{}-title">{}. {}.</title>').format(name, caption(device, side).capitalize(), words),
        Markup("<g{}>").format(turned),
        _hand(),
        *(_zone(zone, zone.outline, shown.get(zone.id, dark), f"{name}-{at}") for at, zone in placed if zone.outline),
        Markup("</g>"),
        *(_number(zone, at, *_middle(zone.outline, mirrored=mirrored)) for at, zone in placed if zone.outline),
    ]
    if others:
        parts.append(
            Markup('<text class="unplaced" x="{:g}" y="{:g}" text-anchor="middle" font-size="6">{}</text>').format(
                WIDTH / 2, HEIGHT + 7, "place not drawn"
            )
        )
    for index, (at, zone) in enumerate(others):
        row, column = divmod(index, _PER_ROW)
        x, y = 3 + column * 24.0, HEIGHT + 11 + row * _ROW
        box = ((x, y), (x + 22, y), (x + 22, y + 20), (x, y + 20))
        parts += [_zone(zone, box, shown.get(zone.id, dark), f"{name}-{at}"), _number(zone, at, x + 11, y + 10)]
    parts.append(Markup("</svg>"))
    return Markup("\n").join(parts)


def _seen(zones: tuple[ZoneRow, ...], *, mirrored: bool) -> tuple[float, float]:
    """From where to where the picture reaches: over the hand and every outline, or all of the frame beside a row."""
    if any(zone.outline is None for zone in zones):
        return 0.0, WIDTH
    places = [x for zone in zones for x, _ in zone.outline or ()]
    left, right = min(_HAND_FROM, min(places) - 2), max(_HAND_TO, max(places) + 2)
    return (WIDTH - right, WIDTH - left) if mirrored else (left, right)


def _hand() -> Markup:
    """Skin over a wider line, so that all parts share one edge."""
    palm = _points(_PALM)
    found = []
    for wider, colour, kind in ((2 * _LINE, _INK, "rim"), (0.0, _SKIN, "skin")):
        lines = [
            Markup('<polyline points="{}" fill="none" stroke-width="{:g}"/>').format(_points(joints), width + wider)
            for width, joints in _FINGERS
        ]
        body = Markup('<polygon points="{}" stroke-width="{:g}"/>').format(palm, _ROUND + wider)
        found.append(
            Markup(
                '<g class="{}" fill="{}" stroke="{}" stroke-linecap="round" stroke-linejoin="round">{}{}</g>'
            ).format(kind, colour, colour, body, Markup("").join(lines))
        )
    return Markup("\n").join(found)


def _zone(zone: ZoneRow, outline: tuple[tuple[float, float], ...], shown: ZoneShown, name: str) -> Markup:
    """A zone that is filled from the wrist up by its share of the target; beyond it, its edge is dashed."""
    top, bottom = min(y for _, y in outline), max(y for _, y in outline)
    level = (bottom - top) * min(1.0, shown.share)
    points = _points(outline)
    state = shown.standing.value if shown.standing is not None else "dark"
    return Markup(
        '<g class="zone {state}" data-zone="{id}" data-top="{top:g}" data-bottom="{bottom:g}">'
        '<clipPath id="{name}"><polygon points="{points}"/></clipPath>'
        '<polygon class="ground" points="{points}" fill="{ground}"/>'
        '<rect class="light" clip-path="url(#{name})" x="0" y="{y:g}" width="{width:g}" height="{level:g}"'
        ' fill="{light}"/>'
        '<polygon class="edge" points="{points}" fill="none" stroke="{ink}" stroke-width="{line:g}"'
        ' stroke-linejoin="round"{dashes}/></g>'
    ).format(
        state=state,
        id=zone.id,
        top=top,
        bottom=bottom,
        name=name,
        points=points,
        ground=_GROUND,
        y=bottom - level,
        width=WIDTH,
        level=level,
        light=_LIGHT,
        ink=_INK,
        line=_LINE,
        dashes=Markup(' stroke-dasharray="3 1.6"') if shown.standing is ZoneStanding.OVER else "",
    )


def _number(zone: ZoneRow, at: int, x: float, y: float) -> Markup:
    return Markup(
        '<g class="number" data-zone="{}"><circle cx="{:g}" cy="{:g}" r="5.3" fill="{}" stroke="{}" stroke-width="1"/>'
        '<text x="{:g}" y="{:g}" text-anchor="middle" font-size="9" font-weight="700" fill="{}">{}</text></g>'
    ).format(zone.id, x, y, _GROUND, _INK, x, y + 3.2, _INK, at)


def _middle(outline: tuple[tuple[float, float], ...], *, mirrored: bool) -> tuple[float, float]:
    """Centre of area of a polygon (the shoelace formula), as it is seen."""
    sum_x = sum_y = twice = 0.0
    for (x, y), (next_x, next_y) in zip(outline, (*outline[1:], outline[0]), strict=True):
        part = x * next_y - next_x * y
        twice += part
        sum_x += (x + next_x) * part
        sum_y += (y + next_y) * part
    x, y = sum_x / (3 * twice), sum_y / (3 * twice)
    return (WIDTH - x if mirrored else x), y


def _points(corners: tuple[tuple[float, float], ...]) -> str:
    return escape(" ".join(f"{x:g},{y:g}" for x, y in corners))
