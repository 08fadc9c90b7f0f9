"""Positions of a light around a limb, and the zones of a device on the hand, as one SVG file. Pure.

The limb is seen along its axis, as the cylinder that the arithmetic takes it for (`exposure.beam.RoundLimb`); radius,
distance and arcs are drawn to one scale.
"""

from math import cos, degrees, radians, sin

from markupsafe import Markup

from handsfree.definition.profile_form import DeviceProfile
from handsfree.drawing.hand_picture import caption, hand_picture, zones_in_order
from handsfree.exposure.beam import RoundLimb

_SIZE = 100.0
_MARGIN_CM = 1.6
"""Room around the lights, for their numbers."""
_INK, _LIGHT, _SKIN, _PAPER = "#10171d", "#f2b705", "#f3e7db", "#ffffff"


def stations_picture(limb: RoundLimb, stations: int, arc_cm: float, device: DeviceProfile, light: str) -> Markup:
    """The file.

    Args:
        limb: The limb with the distance of the light.
        stations: Positions that are needed.
        arc_cm: The part of the circumference that is to be lit, cm.
        device: Its zones are drawn beside.
        light: Title of the light.
    """
    zones = zones_in_order(device)
    title, around = device.title, f"a limb of {limb.circumference.cm:g} cm, at {limb.distance.cm:g} cm"
    words = f"{light}: {stations} positions around {around}"
    lines = [
        *(f"{at} {zone.name}: {zone.spots} {'position' if zone.spots == 1 else 'positions'}"
          for at, zone in enumerate(zones, start=1)),
        "Left: along the limb, to scale; bold arc: at least half of a position's peak.",
        f"Right: {caption(device, None)}.",
        "Check firmness by hand; the instructions of device and light come first.",
    ]  # fmt: skip
    height = 30 + _SIZE + 8 + 7 * len(lines)
    parts = [
        Markup(
            '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 {:g}" width="800" role="img" '
            'aria-labelledby="plan-title" font-family="sans-serif" font-size="5" fill="{}">'
        ).format(height, _INK),
        Markup('<title id="plan-title">{}. {}.</title>').format(title, words),
        Markup('<rect width="200" height="{:g}" fill="{}"/>').format(height, _PAPER),
        Markup('<text x="6" y="11" font-size="7" font-weight="700">{}</text>').format(title),
        Markup('<text x="6" y="20">{}</text>').format(words),
        Markup('<svg x="6" y="26" width="100" height="100" viewBox="0 0 100 100">{}</svg>').format(
            _around(limb, stations, arc_cm)
        ),
        Markup('<svg x="118" y="26" width="76" height="100">{}</svg>').format(hand_picture(device, None, name="plan")),
        *(
            Markup('<text x="6" y="{:g}">{}</text>').format(30 + _SIZE + 6 + 7 * row, line)
            for row, line in enumerate(lines)
        ),
        Markup("</svg>\n"),
    ]
    return Markup("\n").join(parts)


def _around(limb: RoundLimb, stations: int, arc_cm: float) -> Markup:
    radius_cm, held_cm = limb.radius_cm, limb.radius_cm + limb.distance.cm
    scale = _SIZE / 2 / (held_cm + _MARGIN_CM)
    span_deg = degrees(arc_cm / radius_cm)
    parts = [
        Markup('<circle cx="50" cy="50" r="{:.2f}" fill="{}" stroke="{}" stroke-width="1"/>').format(
            radius_cm * scale, _SKIN, _INK
        )
    ]
    for number in range(1, stations + 1):
        at_deg = -span_deg / 2 + span_deg * (number - 0.5) / stations
        from_deg, to_deg = at_deg - limb.half_dose_deg, at_deg + limb.half_dose_deg
        (x, y), (fx, fy), (tx, ty) = (
            _place(held_cm * scale, at_deg),
            _place(radius_cm * scale, from_deg),
            _place(radius_cm * scale, to_deg),
        )
        nx, ny = _place((held_cm + 0.75 * _MARGIN_CM) * scale, at_deg)
        parts.append(
            Markup(
                '<g class="station"><path d="M{fx:.2f} {fy:.2f}L{x:.2f} {y:.2f}L{tx:.2f} {ty:.2f}" fill="none" '
                'stroke="{ink}" stroke-width=".4" stroke-dasharray="1.5 1"/>'
                '<path d="M{fx:.2f} {fy:.2f}A{r:.2f} {r:.2f} 0 0 1 {tx:.2f} {ty:.2f}" fill="none" stroke="{light}" '
                'stroke-width="{width:g}"/>'
                '<circle cx="{x:.2f}" cy="{y:.2f}" r="1.6" fill="{light}" stroke="{ink}" stroke-width=".8"/>'
                '<text x="{nx:.2f}" y="{ny:.2f}" text-anchor="middle" dominant-baseline="central" font-weight="700">'
                "{number}</text></g>"
            ).format(
                fx=fx, fy=fy, x=x, y=y, tx=tx, ty=ty, nx=nx, ny=ny, r=radius_cm * scale, ink=_INK, light=_LIGHT,
                width=2 + number % 2, number=number,
            )
        )  # fmt: skip
    return Markup("").join(parts)


def _place(radius: float, angle_deg: float) -> tuple[float, float]:
    """A point around the middle; 0 degrees is above it."""
    return 50 + radius * sin(radians(angle_deg)), 50 - radius * cos(radians(angle_deg))
