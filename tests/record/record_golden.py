"""Golden records, also those of whole visits in tests/golden: copies to work on, and records made over."""

import dataclasses
import gzip
import json
import shutil
from pathlib import Path

from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.own_lines import EVENT, OWN_KINDS
from handsfree.record.record_line import FIRST_PREV, fact_sum, parse_line, with_sum

GOLDEN = Path(__file__).parent / "golden"
VISITS = Path(__file__).resolve().parents[1] / "golden"
PLACES = {
    path.relative_to(root).as_posix(): path for root in (GOLDEN, VISITS) for path in sorted(root.glob("form-*/*"))
}
"""Folder of each golden record, by form and name."""
FORM_1 = tuple(sorted(place.partition("/")[2] for place in PLACES if place.startswith("form-1/")))
FORM_2 = tuple(sorted(place.partition("/")[2] for place in PLACES if place.startswith("form-2/")))


def copy_of(name: str, folder: Path, form: int = 1) -> Path:
    """A golden record, unpacked into a folder of its own."""
    copied = Path(shutil.copytree(PLACES[f"form-{form}/{name}"], folder / name))
    packed = copied / f"{RECORD_FILE}.gz"
    (copied / RECORD_FILE).write_bytes(gzip.decompress(packed.read_bytes()))
    packed.unlink()
    return copied


def raw_lines(folder: Path) -> list[dict]:
    """The lines of a record as JSON, by no code of the package."""
    return [json.loads(raw) for raw in (folder / RECORD_FILE).read_bytes().splitlines()]


def made_over(folder: Path, change) -> None:
    """Change the lines of a record and make sums, numbers and chain right again.

    Args:
        folder: Folder of the record.
        change: Takes the list of lines and changes it in place.
    """
    lines = [parse_line(raw) for raw in (folder / RECORD_FILE).read_bytes().splitlines()]
    change(lines)
    prev, out = FIRST_PREV, []
    for seq, line in enumerate(lines):
        data = dict(line.data)
        if line.kind == EVENT:
            facts = lines[seq + 1 : seq + 1 + data["facts"]]
            data["facts_sha256"] = [fact_sum(fact.kind, fact.data) for fact in facts]
        if line.kind == "sealed":
            data |= {"lines": seq + 1, "head": prev}
        fixed = dataclasses.replace(line, seq=seq, prev=prev, data=data)
        fixed = with_sum(fixed) if fixed.kind in OWN_KINDS else fixed
        out.append(fixed)
        prev = fixed.hash
    (folder / RECORD_FILE).write_bytes(b"".join(line.raw + b"\n" for line in out))
    (folder / "record.end").unlink(missing_ok=True)
