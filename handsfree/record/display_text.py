"""Identifiers, numbers, times and units as a reader sees them, in pages, summaries and exports alike. Pure."""

import re
from datetime import datetime, timedelta, timezone

_UNITS = {
    "mW/cm2": "mW/cm²",
    "J/cm2": "J/cm²",
    "W/m2": "W/m²",
    "Cel": "°C",
    "deg": "°",
    "1": "",
    "{score}": "",
}
_NUMBER = re.compile(r"@(?=\d+\b)")
"""Before the number of a step that is repeated."""


def one_line(text: str) -> str:
    """Words that may be from elsewhere, on one line that a terminal shows and does not obey.

    White space is a space; what else is not printed (control characters, marks that turn the direction of what follows,
    halves of a character) is shown as its escape.
    """
    spaced = (" " if letter.isspace() else letter for letter in text)
    return "".join(one if one.isprintable() else one.encode("unicode_escape").decode("ascii") for one in spaced)


def plain(identifier: str) -> str:
    """An identifier as words: "skin_before@left" is "skin before, left", and "bolt@7" is "bolt 7"."""
    return _NUMBER.sub(" ", identifier).replace("_", " ").replace("@", ", ")


def capital(words: str) -> str:
    """Words with a capital first; the others stay as they are."""
    return f"{words[:1].upper()}{words[1:]}"


def unit_text(unit: str) -> str:
    """A UCUM unit as it is printed; "" for numbers without one."""
    return _UNITS.get(unit, unit)


def with_unit(number: str, unit: str | None) -> str:
    """A number with its UCUM unit as it is printed: a space before every unit but the degree of angle."""
    printed = unit_text(unit or "")
    return f"{number}{'' if printed in {'', '°'} else ' '}{printed}"


def tenths(amount: float) -> str:
    """An amount with one digit after the point."""
    return f"{amount:.1f}"


def dose_text(j_cm2: float) -> str:
    """A dose in J/cm² with two digits after the point, without its unit."""
    return f"{j_cm2:.2f}"


def percent(probability: float) -> str:
    """A probability as a percentage."""
    return f"{probability:.0%}"


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


def local_text(wall: str, offset_minutes: int, *, seconds: bool = False) -> str:
    """An RFC 3339 stamp as clocks at this offset from UTC showed it; the text itself where it is none.

    Args:
        wall: The stamp.
        offset_minutes: Offset of local time from UTC, minutes.
        seconds: Whether seconds are shown too.
    """
    try:
        local = datetime.fromisoformat(wall).astimezone(timezone(timedelta(minutes=offset_minutes)))
    except (ValueError, OverflowError):
        return wall
    return f"{local:%Y-%m-%d %H:%M:%S}" if seconds else f"{local:%Y-%m-%d %H:%M}"


def offset_text(offset_minutes: int) -> str:
    """Offset of local time from UTC."""
    sign = "−" if offset_minutes < 0 else "+"
    return f"UTC{sign}{abs(offset_minutes) // 60:02}:{abs(offset_minutes) % 60:02}"
