"""The work of a forger who knows the form: everything that needs no key is made right again."""

import dataclasses
import json

from handsfree.record.end_mark import END_FILE
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.own_lines import ATTESTED, EVENT, OWN_KINDS, SEALED
from handsfree.record.record_line import FIRST_PREV, RecordLine, canonical, fact_sum, parse_line, with_sum


def lines_of(folder):
    """The lines of a record."""
    return [parse_line(raw) for raw in (folder / RECORD_FILE).read_bytes().splitlines()]


def forged(folder, change):
    """Change the lines of a record; numbers, links, sums, counts and the note of the end are made right again.

    Args:
        folder: Folder of the record.
        change: Takes the list of lines and changes it in place.
    """
    lines = lines_of(folder)
    change(lines)
    prev, out = FIRST_PREV, []
    for seq, line in enumerate(lines):
        data = dict(line.data)
        if line.kind == EVENT:
            facts = _facts_after(lines, seq)
            data |= {"facts": len(facts), "facts_sha256": [fact_sum(fact.kind, fact.data) for fact in facts]}
        if line.kind in (SEALED, ATTESTED):
            data |= {"lines": seq + 1, "head": prev}
        fixed = dataclasses.replace(line, seq=seq, prev=prev, data=data)
        fixed = with_sum(fixed) if fixed.kind in OWN_KINDS else fixed
        out.append(fixed)
        prev = fixed.hash
    (folder / RECORD_FILE).write_bytes(b"".join(line.raw + b"\n" for line in out))
    note_end_of(folder, out)
    return folder


def note_end_of(folder, lines):
    """A note of the end as the program writes one without a key."""
    if any(line.kind == SEALED for line in lines):
        (folder / END_FILE).write_bytes(canonical({"lines": len(lines), "head": lines[-1].hash}))


def _facts_after(lines, seq):
    facts = []
    for line in lines[seq + 1 :]:
        if line.kind in OWN_KINDS:
            break
        facts.append(line)
    return facts


def own_line(kind, at, **data):
    """A line of the journal's own, to be put among the lines of a record."""
    return RecordLine(0, "", at, kind, data)


def changed(line, **data):
    """A line with other members."""
    return dataclasses.replace(line, data=dict(line.data) | data)


def values_changed(line, old, new):
    """A line with one piece of its JSON in place of another, wherever it stands."""
    text = json.dumps(dict(line.data), ensure_ascii=False, separators=(",", ":"))
    assert old in text, text
    return dataclasses.replace(line, data=json.loads(text.replace(old, new)))
