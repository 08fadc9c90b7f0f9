"""A local recall list: a CSV file with the columns lot and reason."""

import csv
import hashlib
import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from handsfree.errors import UsageError
from handsfree.model.readings import SpelledText
from handsfree.regular_files import read_named


@dataclass(frozen=True, slots=True)
class RecallList:
    """Lots that must not be used.

    Attributes:
        lots: Lot, as in `SpelledText.bare`, to reason; blanks and hyphens do not count, as nobody says them.
        sha256: Digest of the file, "" where there is none.
    """

    lots: Mapping[str, str] = field(default_factory=dict)
    sha256: str = ""


def read_recalls(path: Path) -> RecallList:
    """Read a recall list.

    Args:
        path: UTF-8 CSV file whose first line names the columns `lot` and, if given, `reason`.

    Raises:
        UsageError: The file cannot be read, has no column `lot`, or a row has no lot.
    """
    try:
        content = read_named(path)
        rows = list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline=""), strict=True))
    except OSError as error:
        raise UsageError(f"{path}: the recall list cannot be read: {error.strerror} (give a CSV file)") from error
    except (UnicodeDecodeError, csv.Error) as error:
        raise UsageError(f"{path}: the recall list cannot be read: {error} (a UTF-8 CSV file is needed)") from error
    recalled: dict[str, str] = {}
    for number, row in enumerate(rows, start=2):
        lot = SpelledText(row.get("lot") or "").bare
        if not lot:
            raise UsageError(f"{path}:{number}: no lot (the first line must name a column lot, and every row fill it)")
        recalled[lot] = (row.get("reason") or "").strip()
    return RecallList(recalled, hashlib.sha256(content).hexdigest())
