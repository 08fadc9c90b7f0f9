"""A name that a file does not have is told with those that there are to choose from.

What would be right follows from the forms; codes of units: UCUM, case-sensitive (deg, Cel, N.m).
"""

import pytest
from authoring_files import PLAIN, write

from handsfree.authoring.checks import check
from handsfree.authoring.findings import FindingLevel

# What is broken, what stands in the file, what is put in its place, and the line: number, place, text.
BROKEN = (
    (
        "lift by nobody there is",
        "    when: {",
        "    lift: {by: [physio], reasons: [senior]}\n    when: {",
        "52: steps.3.lift.by: physio is not listed under roles at the top of the file (there are: nurse)",
    ),
    (
        "side_from without a field",
        "steps:",
        "side_from: place\nsteps:",
        "12: side_from: place is no field with the options left and right (write the step, a point and the field)",
    ),
    (
        "kind_from a step",
        "steps:",
        """kind_from: visit
steps:
  - id: visit
    kind: choose
    phase: before
    prompt: Live or practice session?
    expert: Session kind?
    hard: true
    source: book
    fields: [{id: kind, label: kind, options: {live: [live session], practice: [practice session]}}]""",
        "12: kind_from: visit is no field with the options live and practice (there are: visit.kind)",
    ),
    (
        "unit in words",
        "unit: Cel",
        "unit: degrees",
        "44: steps.2.fields.0.number.unit: degrees is no UCUM code (is deg or Cel meant?)",
    ),
    (
        "unit that is like none",
        "unit: Cel",
        "unit: Nm",
        "44: steps.2.fields.0.number.unit: Nm is no UCUM code (of newton metres it would be N.m, of litres L)",
    ),
)


@pytest.mark.parametrize(("what", "old", "new", "line"), BROKEN, ids=[row[0] for row in BROKEN])
def test_what_there_is_to_choose_from_is_told(tmp_path, what, old, new, line):
    assert PLAIN.count(old) >= 1, what
    path = write(tmp_path, PLAIN.replace(old, new, 1))
    errors = [one.as_line for one in check(str(path)) if one.level is FindingLevel.ERROR]
    assert errors == [f"{path}:{line.replace(':', ': error:', 1)}"]
