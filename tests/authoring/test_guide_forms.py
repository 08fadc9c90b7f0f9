"""The examples of the guide's part on forms for real work: each checks without an error, as it stands there."""

import re
from pathlib import Path

import pytest

from handsfree.authoring.checks import check
from handsfree.authoring.findings import FindingLevel
from handsfree.definition.loader import load_bundle

GUIDE = Path(__file__).parents[2] / "handsfree" / "procedures" / "GUIDE.md"
PART = GUIDE.read_text(encoding="utf-8").partition("## 9. Forms for real work")[2].partition("\n## ")[0]
EXAMPLES = dict(re.findall(r"### ([^\n]+)\n.*?```yaml\n(.*?)```", PART, re.DOTALL))
HEAD = """\
form: 1
id: example
title: An example of the guide
version: "0.1.0"
language: en-US
approved_by: null
sources: {local: "common practice, no source"}
cautions: [The product's own instructions come first.]
roles: {nurse: [ward nurse], senior: [senior technician]}
skip_reasons: {declined: [patient declined]}
override_reasons: {agreed: [senior agrees]}
operator_from: operator.code
steps:
  - id: operator
    kind: identify
    phase: before
    topic: operator
    prompt: Spell your code.
    expert: Your code?
    hard: true
    source: local
    fields: [{id: code, label: code, identifier: {max_length: 6, of: other}}]
"""


def test_there_are_examples():
    assert len(EXAMPLES) == PART.count("\n### ")


@pytest.mark.parametrize("name", EXAMPLES)
def test_an_example_checks(tmp_path, name):
    path = tmp_path / "example.yaml"
    path.write_text(HEAD + EXAMPLES[name])
    found = [one for one in check(str(path)) if one.level is FindingLevel.ERROR]
    assert found == []
    assert len(load_bundle(str(path)).plan.stages) > 1
