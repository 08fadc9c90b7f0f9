"""What is done to finished records, one named kind after the other, and whether it is found.

Who writes the folder can make every hash right again, so each kind is asked for three times: by the record alone, by
the key that must have attested it, and by a head hash that was written down. What must be found is what the README
says under "What a record shows of tampering".
"""

import os
import random
import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from faults_records import TRUSTED, Records

from handsfree.application.replaying import replay
from handsfree.errors import RecordError
from handsfree.record.contents import Record
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.verify import verify

Change = Callable[[Path, random.Random, Records], None]
Claims = tuple[bool | None, bool | None, bool | None]
BY = ("verify", "verify --key", "verify --head")
ALWAYS: Claims = (True, True, True)
UNSAID: Claims = (None, None, None)


@dataclass(frozen=True)
class Kind:
    """A kind of corruption.

    Attributes:
        name: What is done.
        change: Does it to a copy of a record.
        claimed: Whether the guide says that it is found, by each of `BY`; None where it says nothing.
        amended: Whether it is done to the record that was amended after its attestation.
    """

    name: str
    change: Change
    claimed: Claims
    amended: bool = False


@dataclass
class Tried:
    """What came of a kind: how often it was tried, and found by each of `BY`; what escaped as no described error."""

    tried: int = 0
    found: list[int] = field(default_factory=lambda: [0, 0, 0])
    bugs: list[str] = field(default_factory=list)


FILE_KINDS: list[Kind] = []


def kind(name: str, claimed: Claims, *, amended: bool = False) -> Callable[[Change], Change]:
    """Put a kind on the list."""

    def listed(change: Change) -> Change:
        FILE_KINDS.append(Kind(name, change, claimed, amended))
        return change

    return listed


def _bytes(name: str) -> Callable[[Callable[[bytes, random.Random], bytes]], None]:
    """A kind that changes the bytes of the file and makes nothing right again."""

    def listed(edit: Callable[[bytes, random.Random], bytes]) -> None:
        def change(folder: Path, rng: random.Random, _: Records) -> None:
            content = (folder / RECORD_FILE).read_bytes()
            (folder / RECORD_FILE).write_bytes(edit(content, rng))

        kind(name, ALWAYS)(change)

    return listed


@_bytes("one bit changed")
def _(content: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(content))
    return content[:at] + bytes([content[at] ^ 1 << rng.randrange(8)]) + content[at + 1 :]


@_bytes("bytes put in")
def _(content: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(content))
    return content[:at] + rng.randbytes(rng.randint(1, 9)) + content[at:]


@_bytes("bytes taken out")
def _(content: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(content) - 9)
    return content[:at] + content[at + rng.randint(1, 9) :]


@_bytes("cut inside a line")
def _(content: bytes, rng: random.Random) -> bytes:
    return content[: rng.randrange(len(content))]


@_bytes("cut at the end of a line")
def _(content: bytes, rng: random.Random) -> bytes:
    lines = content.splitlines(keepends=True)
    return b"".join(lines[: rng.randrange(len(lines))])


@_bytes("two lines exchanged")
def _(content: bytes, rng: random.Random) -> bytes:
    lines = content.splitlines(keepends=True)
    one, two = rng.sample(range(len(lines)), 2)
    lines[one], lines[two] = lines[two], lines[one]
    return b"".join(lines)


@_bytes("a line repeated")
def _(content: bytes, rng: random.Random) -> bytes:
    lines = content.splitlines(keepends=True)
    lines.insert(rng.randrange(len(lines) + 1), rng.choice(lines))
    return b"".join(lines)


@_bytes("a line taken out")
def _(content: bytes, rng: random.Random) -> bytes:
    lines = content.splitlines(keepends=True)
    del lines[rng.randrange(len(lines))]
    return b"".join(lines)


@_bytes("a digit of a value changed")
def _(content: bytes, rng: random.Random) -> bytes:
    places = [at for at in range(len(content)) if content[at : at + 9] == b'"value":"' and 48 <= content[at + 9] < 58]
    at = rng.choice(places) + 9
    return content[:at] + bytes([48 + (content[at] - 48 + rng.randint(1, 9)) % 10]) + content[at + 1 :]


@_bytes("a stamp changed")
def _(content: bytes, rng: random.Random) -> bytes:
    places = [at for at in range(len(content)) if content[at : at + 6] == b'"at":"']
    at = rng.choice(places) + 6 + len("2026-11-25T10:0")
    return content[:at] + bytes([48 + (content[at] - 48 + rng.randint(1, 9)) % 10]) + content[at + 1 :]


@_bytes("a torn line at the end")
def _(content: bytes, rng: random.Random) -> bytes:
    line = rng.choice(content.splitlines())
    return content + line[: rng.randint(1, len(line))]


@_bytes("zeros at the end")
def _(content: bytes, rng: random.Random) -> bytes:
    return content + bytes(rng.randint(1, 5000))


@_bytes("line ends of another system")
def _(content: bytes, _: random.Random) -> bytes:
    return content.replace(b"\n", b"\r\n")


@_bytes("a huge line put in")
def _(content: bytes, rng: random.Random) -> bytes:
    lines = content.splitlines(keepends=True)
    huge = rng.choice((b"x", b"[", b'{"a":', b"9", b'"')) * rng.randint(100_000, 1_000_000) + b"\n"
    lines.insert(rng.randrange(len(lines) + 1), huge)
    return b"".join(lines)


@_bytes("the file emptied")
def _(_: bytes, rng: random.Random) -> bytes:
    return b"\n" * rng.randint(0, 2)


@kind("a line of another record put in", ALWAYS)
def _(folder: Path, rng: random.Random, records: Records) -> None:
    lines = (folder / RECORD_FILE).read_bytes().splitlines(keepends=True)
    others = (rng.choice(records.otherwise) / RECORD_FILE).read_bytes().splitlines(keepends=True)
    at = rng.randrange(1, len(lines))
    line = rng.choice([line for line in others if line not in lines])
    lines[at : at + rng.randint(0, 1)] = [line]
    (folder / RECORD_FILE).write_bytes(b"".join(lines))


def put_odd(path: Path, rng: random.Random) -> None:
    """Something else in the place of a file."""
    aside = path.with_name("aside")
    path.rename(aside)
    match rng.randrange(3):
        case 0:
            path.symlink_to(aside)
        case 1:
            os.mkfifo(path)
        case _:
            path.mkdir()


@kind("a link, a pipe or a folder in the place of the file", ALWAYS)
def _(folder: Path, rng: random.Random, _: Records) -> None:
    put_odd(folder / RECORD_FILE, rng)


def _clips(folder: Path, rng: random.Random) -> list[Path]:
    found = sorted((folder / "clips").iterdir())
    rng.shuffle(found)
    return found


@kind("sound altered", ALWAYS)
def _(folder: Path, rng: random.Random, _: Records) -> None:
    clip = _clips(folder, rng)[0]
    content = bytearray(clip.read_bytes())
    content[rng.randrange(len(content))] ^= 1 << rng.randrange(8)
    clip.write_bytes(bytes(content))


@kind("sound of two utterances exchanged", ALWAYS)
def _(folder: Path, rng: random.Random, _: Records) -> None:
    one, two = _clips(folder, rng)[:2]
    kept = one.read_bytes()
    one.write_bytes(two.read_bytes())
    two.write_bytes(kept)


@kind("sound taken away", ALWAYS)
def _(folder: Path, rng: random.Random, _: Records) -> None:
    _clips(folder, rng)[0].unlink()


@kind("a link, a pipe or a folder in the place of sound", ALWAYS)
def _(folder: Path, rng: random.Random, _: Records) -> None:
    put_odd(_clips(folder, rng)[0], rng)


@kind("sound put in that no line names", UNSAID)
def _(folder: Path, rng: random.Random, _: Records) -> None:
    (folder / "clips" / f"{rng.randbytes(32).hex()}.flac").write_bytes(b"fLaC")


def try_kinds(kinds: Sequence[Kind], records: Records, place: Path, count: int, seed: int) -> dict[str, Tried]:
    """Corrupt so many records, each kind in its turn, and look whether it is found.

    Args:
        kinds: What is done.
        records: What it is done to copies of.
        place: Folder for these copies.
        count: How many records; each kind is tried at least once.
        seed: Of everything that is left to chance.
    """
    found = {one.name: Tried() for one in kinds}
    for number in range(max(count, len(kinds))):
        one = kinds[number % len(kinds)]
        base = records.amended if one.amended else records.attested
        folder = Path(shutil.copytree(base, place / "copy", symlinks=True))
        before, turn = _content(folder), number
        while _content(folder) == before:  # some changes change nothing
            one.change(folder, random.Random(f"{seed} {one.name} {turn}"), records)  # noqa: S311 - no secrets
            turn += count
        _try(found[one.name], folder, records.heads[base])
        shutil.rmtree(folder)
    return found


def _content(folder: Path) -> dict[str, object]:
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() and not path.is_symlink() else "other"
        for path in folder.rglob("*")
    }


def _try(tried: Tried, folder: Path, head: str) -> None:
    tried.tried += 1
    try:
        plain, record = _faulty(folder)
        replayed = plain or (record is not None and bool(replay(record).faults))
        by_key = replayed or _faulty(folder, trusted_key=TRUSTED)[0]
        by_head = replayed or _faulty(folder, noted_head=head)[0]
    except Exception as error:  # noqa: BLE001 - whatever is no described error is a bug
        tried.bugs.append(f"{type(error).__name__}: {error}")
        return
    tried.found = [known + now for known, now in zip(tried.found, (replayed, by_key, by_head), strict=True)]


def _faulty(folder: Path, **asked: str) -> tuple[bool, Record | None]:
    try:
        checked = verify(folder, **asked)
    except RecordError:
        return True, None
    return not checked.fine, checked.record


def missed(kinds: Sequence[Kind], found: dict[str, Tried]) -> list[str]:
    """Where the guide says that something is found and it was not, and what escaped as no described error."""
    told = [f"{name}: {bug}" for name, tried in found.items() for bug in tried.bugs]
    for one in kinds:
        tried = found[one.name]
        told += [
            f"{one.name}: {by} found {count} of {tried.tried}"
            for by, claim, count in zip(BY, one.claimed, tried.found, strict=True)
            if claim and count < tried.tried
        ]
    return told


def table(kinds: Sequence[Kind], found: dict[str, Tried]) -> list[str]:
    """Lines of the table: kind, how often tried, found by each, and what the guide says of it."""
    said = {True: "yes", False: "no", None: "-"}
    rows = [f"{'':64} {'tried':>5}  " + "  ".join(f"{by:>17}" for by in BY)]
    for one in kinds:
        tried = found[one.name]
        cells = (f"{count:>5} (guide: {said[claim]:>3})" for count, claim in zip(tried.found, one.claimed, strict=True))
        rows.append(f"{one.name:64} {tried.tried:>5}  " + "  ".join(f"{cell:>17}" for cell in cells))
    return rows
