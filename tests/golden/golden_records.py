"""Golden records unpacked, and what the version that wrote them made of them."""

import gzip
from pathlib import Path

FOLDER = Path(__file__).parent / "form-1"


def unpacked(name, folder):
    """A golden record as a folder that the program reads."""
    folder.mkdir()
    (folder / "record.jsonl").write_bytes(gzip.decompress((FOLDER / name / "record.jsonl.gz").read_bytes()))
    (folder / "record.end").write_bytes((FOLDER / name / "record.end").read_bytes())
    return folder


def having(file):
    """Names of the records that a file stands beside."""
    return sorted(path.parent.name for path in FOLDER.glob(f"*/{file}"))


def beside(name, file):
    """Text of a file beside a record."""
    content = (FOLDER / name / file).read_bytes()
    return (gzip.decompress(content) if file.endswith(".gz") else content).decode()
