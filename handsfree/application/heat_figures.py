"""Thermal dose, published burn points, and the working curve for training."""

from collections.abc import Sequence

from handsfree.application.figures import Figures
from handsfree.exposure import heat as thermal
from handsfree.model.effects import Json


def heat_figures(
    steps: Sequence[tuple[float, float]], training_curve: tuple[float, float, float] | None, *, burn_points: bool
) -> Figures:
    """What was asked for, each with its caution.

    Args:
        steps: Skin temperature in degrees Celsius, and minutes.
        training_curve: Dose and critical dose in mJ/cm², penetration depth in mm; or None.
        burn_points: Whether the published points are listed.

    Raises:
        ValueError: A figure is out of its range; says which would be right.
    """
    data: dict[str, Json] = {}
    lines: list[str] = []
    if steps:
        minutes = thermal.cem43_min(steps)
        data |= {"cem43_min": minutes, "cem43_caution": thermal.CEM43_CAUTION}
        lines += [f"CEM43: {minutes:.3f} min", f"caution: {thermal.CEM43_CAUTION}"]
    if burn_points:
        data["burn_points"] = [
            {
                "temperature_c": p.temperature_c,
                "low_s": p.low_s,
                "high_s": p.high_s,
                "what": p.meaning,
                "source": p.source,
            }
            for p in thermal.BURN_POINTS
        ]
        lines += [
            f"{p.temperature_c:g} °C, {_span(p.low_s, p.high_s)}: {p.meaning} ({p.source})" for p in thermal.BURN_POINTS
        ]
        data["pain_points"] = [{"where": where, "source": source} for where, source in thermal.PAIN_POINTS]
        lines += [f"heat begins to hurt at {where} ({source})" for where, source in thermal.PAIN_POINTS]
    if training_curve is not None:
        depth_mm, warning = thermal.working_curve_depth_mm(*training_curve)
        data |= {"training_depth_mm": depth_mm, "training_warning": warning}
        lines += [f"training: {depth_mm:.3f} mm by the working curve", f"caution: {warning}"]
    return Figures(data, tuple(lines))


def _span(low_s: float, high_s: float) -> str:
    """A published time or span of times in the largest unit that fits."""
    size, unit = next(
        (size, unit) for size, unit in ((3600, "h"), (60, "min"), (1, "s")) if high_s >= 2 * size or size == 1
    )
    low, high = f"{low_s / size:g}", f"{high_s / size:g}"
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"
