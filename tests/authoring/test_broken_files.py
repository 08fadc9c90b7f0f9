"""Broken files, each with the one line that says what is wrong and what would be right.

Slips of a trial and others like them; what would be right follows from the forms and YAML 1.2. No outside source.
"""

from pathlib import Path

import pytest
from authoring_files import PLAIN

from handsfree.authoring.checks import check
from handsfree.authoring.findings import FindingLevel

# What is broken, what stands in the file, what is put in its place, and the line: number, place, text.
BROKEN = (
    (
        "version unquoted",
        'version: "1.0.0"',
        "version: 0.1",
        '4: version: needs three numbers in quotes, such as "0.1.0"',
    ),
    (
        "version two numbers",
        'version: "1.0.0"',
        'version: "0.1"',
        "4: version: '0.1' is no version (three numbers in quotes: \"0.1.0\")",
    ),
    (
        "unquoted colon in prompt",
        "prompt: Ward or home?",
        "prompt: Place: ward or home?",
        '16: not YAML: a colon inside plain text (put the text in quotes: prompt: "Place: ward or home?")',
    ),
    (
        "id with capital",
        "id: swab\n",
        "id: Swab\n",
        "22: steps.1.id: 'Swab' is no name (small letters, digits, underscores; a letter first: swab)",
    ),
    (
        "id with blank",
        "- id: place\n",
        "- id: the place\n",
        "13: steps.0.id: 'the place' is no name (small letters, digits, underscores; a letter first: the_place)",
    ),
    (
        "id with hyphen",
        "- id: bell",
        "- id: call-bell",
        "45: steps.3.id: 'call-bell' is no name (small letters, digits, underscores; a letter first: call_bell)",
    ),
    (
        "file id underscore",
        "id: plain\n",
        "id: plain_one\n",
        "2: id: 'plain_one' is no name (small letters, digits, hyphens; a letter first: plain-one)",
    ),
    (
        "phrase with capital",
        "[ward]",
        "[Ward]",
        "21: steps.0.fields.0.options.ward.0: 'Ward' cannot be said so (words in small letters, numbers "
        "written out: ward)",
    ),
    (
        "phrase with digit",
        "torn: [torn]",
        "torn: [torn 2]",
        "31: steps.1.fields.1.options.torn.0: 'torn 2' cannot be said so (words in small letters, "
        "numbers written out: torn)",
    ),
    (
        "label capital",
        "label: warmth",
        "label: Warmth",
        "43: steps.2.fields.0.label: 'Warmth' cannot be said so (words in small letters, numbers written out: warmth)",
    ),
    (
        "when.is unknown",
        "is: [ward]",
        "is: [wards]",
        "52: steps.3.when.is: wards is no option of place.place (there are: ward, home)",
    ),
    ("when.is as text", "is: [ward]", "is: ward", "52: steps.3.when.is: needs a list: [ward]"),
    (
        "when.step unknown",
        "step: place.place",
        "step: plac.place",
        "52: steps.3.when.step: plac.place is no field of an earlier step (did you mean place.place?)",
    ),
    (
        "when.step no field",
        "step: place.place",
        "step: place",
        "52: steps.3.when.step: 'place' is no step.field (write the step, a point and the field: place.ward)",
    ),
    (
        "repeat_within in field",
        "        label: warmth\n",
        "        label: warmth\n        repeat_within: {fields: [a, b], tolerance: 1}\n",
        "44: steps.2.fields.0.repeat_within: is a key of a step, not of a field: write it further out, beside fields",
    ),
    (
        "flag_above in field",
        "decimals: 1, flag_above: 40, flag_class: red}",
        "decimals: 1}\n        flag_above: 40",
        "45: steps.2.fields.0.flag_above: is not a key of a field: it belongs into number",
    ),
    (
        "hard in field",
        "amber: [torn]}",
        "amber: [torn], hard: true}",
        "31: steps.1.fields.1.hard: is a key of a step, not of a field: write it further out, beside fields",
    ),
    (
        "stop on step",
        "    hard: true\n    source: book\n    fields:\n      - {id: place",
        "    hard: true\n    stop: [home]\n    source: book\n    fields:\n      - {id: place",
        "19: steps.0.stop: is not a key of a step: it belongs into a field",
    ),
    (
        "misspelt prompt",
        "prompt: Ward or home?",
        "promt: Ward or home?",
        "16: steps.0.promt: is not a key of a step (did you mean prompt?)",
    ),
    (
        "misspelt kind value",
        "kind: finding",
        "kind: findings",
        "23: steps.1.kind: 'findings' is none of tell, confirm, measure, finding, choose, identify, "
        "expose, teach, compute (did you mean finding?)",
    ),
    (
        "misspelt phase",
        "phase: during",
        "phase: middle",
        "34: steps.2.phase: 'middle' is none of before, during, after",
    ),
    (
        "misspelt top key",
        "cautions:",
        "caution:",
        "8: caution: is not a key of the top of the file (did you mean cautions?)",
    ),
    (
        "missing source",
        "    source: book\n    when",
        "    when",
        "45: steps.3.source: is missing (name where the rule is from: a key under sources)",
    ),
    (
        "unknown source",
        "    source: book\n    when",
        "    source: books\n    when",
        "51: steps.3.source: books is not listed under sources (did you mean book?)",
    ),
    (
        "wrong indentation",
        "    prompt: Ward or home?",
        "   prompt: Ward or home?",
        "16: not YAML: indented otherwise than its neighbours (keys of one step begin in one column)",
    ),
    (
        "list item not indented alike",
        "      - {id: bandage",
        "     - {id: bandage",
        "31: not YAML: indented otherwise than its neighbours (keys of one step begin in one column)",
    ),
    ("tab", "    prompt: Ward or home?", "\tprompt: Ward or home?", "16: not YAML: a tab (indent with blanks)"),
    (
        "duplicate key",
        "    hard: true\n    source: book\n    fields:\n      - {id: place",
        "    hard: true\n    hard: true\n    source: book\n    fields:\n      - {id: place",
        "19: hard: stands twice (give it once)",
    ),
    (
        "hard yes",
        "hard: true",
        "hard: yes",
        "18: steps.0.hard: 'yes' is neither true nor false (write true or false, without quotes)",
    ),
    (
        "options as list",
        "options: {ward: [ward], home: [home]}",
        "options: [ward, home]",
        "21: steps.0.fields.0.options: needs names with their words: {ward: [ward], home: [home]}",
    ),
    ("option phrase not list", "ward: [ward]", "ward: ward", "21: steps.0.fields.0.options.ward: needs a list: [ward]"),
    (
        "number with comma",
        "high: 45",
        "high: 45,5",
        "44: steps.2.fields.0.number.5: is the rest of a number with a comma (write a point: 45.5)",
    ),
    (
        "number with unit",
        "high: 45",
        "high: 45 C",
        "44: steps.2.fields.0.number.high: '45 C' is no number (the number alone, with a point: 45.5)",
    ),
    ("low above high", "low: 20", "low: 50", "44: steps.2.fields.0.number: low 50 must be below high 45"),
    (
        "unknown class",
        "flag_class: red",
        "flag_class: orange",
        "44: steps.2.fields.0.number.flag_class: 'orange' is none of amber, red, stop",
    ),
    (
        "unknown profile",
        "cautions:",
        "device_profile: my-sleeve\ncautions:",
        "8: device_profile: there is no profile my-sleeve.yaml beside the procedure or bundled "
        "(bundled: example-blue-light, example-thumb-sleeve, example-ulnar-sleeve, example-wrist-sleeve)",
    ),
    (
        "unknown block",
        "  - id: bell",
        "  - use: bells\n  - id: bell",
        "45: steps.3.use: there is no block bells (no file with blocks is included)",
    ),
    (
        "unknown include",
        "steps:",
        "include: [neurovasculr]\nsteps:",
        "12: include.0: there is no file neurovasculr.yaml beside the procedure, in its folder blocks "
        "or bundled (did you mean neurovascular?)",
    ),
    (
        "lift unknown role",
        "    when: {",
        "    lift: {by: [nurs], reasons: [senior]}\n    when: {",
        "52: steps.3.lift.by: nurs is not listed under roles at the top of the file (did you mean nurse?)",
    ),
    (
        "lift unknown reason",
        "    when: {",
        "    lift: {by: [nurse], reasons: [seniors]}\n    when: {",
        "52: steps.3.lift.reasons: seniors is not listed under override_reasons at the top of the file "
        "(did you mean senior?)",
    ),
    (
        "stop option unknown",
        "stop: [missing]",
        "stop: [gone]",
        "30: steps.1.fields.0: stop, amber, red, scale, no_heat_report or told name no option of this "
        "field: gone (there are: present, missing)",
    ),
    ("stop as text", "stop: [missing]", "stop: missing", "30: steps.1.fields.0.stop: needs a list: [missing]"),
    (
        "unclosed bracket",
        "[ward], home",
        "[ward, home",
        "21: not YAML: a list or braces without an end, or without a comma (close it with ])",
    ),
    ("unclosed quote", 'expert: "Degrees?"', 'expert: "Degrees?', "36: not YAML: a quote without an end (close it)"),
    ("form 2", "form: 1", "form: 2", "1: form: 2 is none of 1"),
    ("fields on confirm", "kind: confirm", "kind: choose", "45: steps.3: kind choose needs fields"),
    (
        "requires later",
        "    hard: true\n    source: book\n    fields:\n      - {id: place",
        "    hard: true\n    requires: [bell]\n    source: book\n    fields:\n      - {id: place",
        "19: steps.0.requires: bell comes later (a step can only require earlier ones)",
    ),
    (
        "requires as text",
        "    when: {",
        "    requires: place\n    when: {",
        "52: steps.3.requires: needs a list: [place]",
    ),
    (
        "stop word",
        "home: [home]",
        "home: [hot place]",
        '21: steps.0.fields.0.options.home: "hot place" holds a stop word, which acts at once (use another word)',
    ),
    (
        "kind missing",
        "    kind: confirm\n",
        "",
        "45: steps.3.kind: is missing (one of tell, confirm, measure, finding, choose, identify, "
        "expose, teach, compute)",
    ),
    (
        "prompt question mark first",
        "prompt: Ward or home?",
        "prompt: [Ward or home?]",
        "16: steps.0.prompt: needs text: put it in quotes, without brackets or braces",
    ),
    (
        "curly prompt",
        "prompt: Ward or home?",
        "prompt: {side} ward or home?",
        "16: not YAML: text behind a brace, a bracket or a quote (put the whole text in quotes: prompt: "
        '"{side} ward or home?")',
    ),
    (
        "percent",
        "prompt: Ward or home?",
        "prompt: % of ward?",
        '16: not YAML: a sign that begins no plain text (put the text in quotes: prompt: "% of ward?")',
    ),
    (
        "words with slash",
        "torn: [torn]",
        "torn: [torn/ripped]",
        "31: steps.1.fields.1.options.torn.0: 'torn/ripped' cannot be said so (words in small letters, "
        "numbers written out: torn ripped)",
    ),
    (
        "timing wrong",
        "timing: during",
        "timing: while",
        "39: steps.2.timing: 'while' is none of baseline, during, after",
    ),
    ("decimals 4", "decimals: 1", "decimals: 4", "44: steps.2.fields.0.number.decimals: 4 is out of range (at most 3)"),
    (
        "two kinds of value",
        "label: warmth\n",
        "label: warmth\n        options: {a: [a]}\n",
        "42: steps.2.fields.0: needs exactly one of options, number, identifier, date",
    ),
    (
        "lift by as text",
        "    when: {",
        "    lift: {by: nurse, reasons: [senior]}\n    when: {",
        "52: steps.3.lift.by: needs a list: [nurse]",
    ),
    (
        "lift misspelt",
        "    when: {",
        "    lift: nevr\n    when: {",
        "52: steps.3.lift: 'nevr' is none of never (did you mean never?)",
    ),
    (
        "lift without reasons",
        "    when: {",
        "    lift: {by: [nurse]}\n    when: {",
        "52: steps.3.lift.reasons: is missing",
    ),
    (
        "items one level up",
        "    kind: confirm\n",
        "    kind: teach\n    say: Keep it dry.\n",
        "47: steps.3.say: is not a key of a step: it belongs into an item",
    ),
    (
        "teach item without say",
        "    kind: confirm\n",
        "    kind: teach\n    items: [{id: dry}]\n",
        "47: steps.3.items.0.say: is missing",
    ),
    (
        "unknown reader key",
        "    hard: true\n    source: book\n    fields:\n      - {id: place",
        "    hard: true\n    colour: red\n    source: book\n    fields:\n      - {id: place",
        "19: steps.0.colour: is not a key of a step (there are: id, kind, phase, prompt, expert, hard, "
        "source, fields, timing, for_each, group, read_back, requires, when, agree, repeat_within, "
        "size_from, light_must_be_off, time_out, red_action, red_action_other, lift, at_early_end, "
        "more_light, …)",
    ),
    (
        "side without side_from",
        "    when: {",
        "    for_each: side\n    when: {",
        "52: steps.3.for_each: needs side_from at the top of the file",
    ),
    (
        "date number",
        "number: {unit: Cel, low: 20, high: 45, decimals: 1, flag_above: 40, flag_class: red}",
        "date: {earliest: 2 years ago}",
        "44: steps.2.fields.0.date.earliest: '2 years ago' is no day from today (today, \"today - 2 "
        'years" or "today + 30 days")',
    ),
)


@pytest.mark.parametrize(("what", "old", "new", "line"), BROKEN, ids=[row[0] for row in BROKEN])
def test_each_slip_is_told_in_one_line_that_says_what_would_be_right(tmp_path, monkeypatch, what, old, new, line):
    monkeypatch.chdir(tmp_path)
    assert PLAIN.count(old) >= 1, what
    Path("plain.yaml").write_text(PLAIN.replace(old, new, 1), encoding="utf-8")
    errors = [one for one in check("plain.yaml") if one.level is FindingLevel.ERROR]
    told = [one.as_line.removeprefix("plain.yaml:").replace(": error", "", 1) for one in errors]
    assert told == [line]


def test_the_table_is_long_enough():
    assert len(BROKEN) >= 34
