"""A local recall list: a CSV file with the columns lot and reason."""

import csv
from pathlib import Path

from handsfree.errors import UsageError


def read_recalls(path: Path) -> dict[str, str]:
    """Lots that must not be used.

    Args:
        path: UTF-8 CSV file whose first line names the columns `lot` and, if given, `reason`.

    Returns:
        Upper-case lot to reason; blanks and hyphens in a lot do not count, as nobody says them.

    Raises:
        UsageError: The file cannot be read, has no column `lot`, or a row has no lot.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise UsageError(f"{path}: the recall list cannot be read: {error} (a UTF-8 CSV file is needed)") from error
    recalled: dict[str, str] = {}
    for number, row in enumerate(rows, start=2):
        lot = "".join(c for c in (row.get("lot") or "").upper() if c.isalnum())
        if not lot:
            raise UsageError(f"{path}:{number}: no lot (the first line must name a column lot, and every row fill it)")
        recalled[lot] = (row.get("reason") or "").strip()
    return recalled
