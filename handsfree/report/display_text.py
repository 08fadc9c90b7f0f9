"""Identifiers, times, units and scores as a reader sees them. Pure."""

from datetime import datetime, timedelta, timezone

from handsfree.model.effects import Json

_UNITS = {
    "mW/cm2": "mW/cm²",
    "J/cm2": "J/cm²",
    "W/m2": "W/m²",
    "Cel": "°C",
    "deg": "°",
    "1": "",
    "{score}": "",
}


def plain(identifier: object) -> str:
    """An identifier as words: "skin_before@left" is "skin before, left"."""
    return str(identifier).replace("_", " ").replace("@", ", ")


def unit_text(unit: str) -> str:
    """A UCUM unit as it is printed; "" for numbers without one."""
    return _UNITS.get(unit, unit)


def with_unit(shown: str, unit: str) -> str:
    """A value that ends in its UCUM unit, with the unit as it is printed."""
    printed = unit_text(unit)
    if not unit or not shown.endswith(f" {unit}"):
        return shown
    return f"{shown.removesuffix(f' {unit}')}{'' if printed == '°' else ' '}{printed}"


def clock_text(session_s: float) -> str:
    """Session time: minutes and seconds, with hours from the first one on."""
    whole = int(max(0.0, session_s))
    hours, rest = divmod(whole, 3600)
    minutes, seconds = divmod(rest, 60)
    return f"{hours}:{minutes:02}:{seconds:02}" if hours else f"{minutes}:{seconds:02}"


def duration_text(seconds: float) -> str:
    """A duration in words."""
    whole = round(max(0.0, seconds))
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    parts = ((hours, "h"), (minutes, "min"), (left, "s"))
    return " ".join(f"{count} {name}" for count, name in parts if count) or "0 s"


def local_text(wall: str, offset_minutes: int) -> str:
    """An RFC 3339 stamp in local time, to the minute; the text itself where it is none."""
    try:
        moment = datetime.fromisoformat(wall)
    except ValueError:
        return wall
    return f"{moment.astimezone(timezone(timedelta(minutes=offset_minutes))):%Y-%m-%d %H:%M}"


def offset_text(offset_minutes: int) -> str:
    """Offset of local time from UTC."""
    sign = "−" if offset_minutes < 0 else "+"
    return f"UTC{sign}{abs(offset_minutes) // 60:02}:{abs(offset_minutes) % 60:02}"


def score_text(probability: Json) -> str:
    """A probability as a percentage; "" where there is none."""
    return f"{number(probability):.0%}" if isinstance(probability, int | float) else ""


def number(value: Json) -> float:
    """A member that should be a number; 0 where it is none."""
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else 0.0


def text(value: Json) -> str:
    """A member that should be text; "" where it is not given."""
    return "" if value is None else str(value)
