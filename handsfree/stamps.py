"""How a moment is written. Apart from `clock`, so that code which may not ask for the time can still write one down."""

from datetime import UTC, datetime


def stamp(moment: datetime) -> str:
    """RFC 3339 in UTC with milliseconds and Z.

    Args:
        moment: Timezone-aware.

    Raises:
        ValueError: It has no time zone.
    """
    if moment.tzinfo is None:
        raise ValueError("a moment without a time zone cannot be stamped")
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
