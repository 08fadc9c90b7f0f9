"""Files with faults: each is named once, at its own line, with what would be right."""

import pytest
from procedure_files import DEVICE, LIGHT, PROCEDURE, write_files

from handsfree.definition.loader import irradiance_of, load_bundle, zones_of
from handsfree.errors import ProcedureFileError

# Expected lines and faults follow from the file form of this project and from YAML 1.2.2; no other source.
# Each row: what is wrong, file, text replaced, its replacement, beginning of the line at fault, words of the message.
P, D, L = "small.yaml", "sleeve.yaml", "lamp.yaml"
RING = "{id: ring, label: ring, options: {absent: [absent], stuck: [stuck]}, stop: [stuck]}"
WASH = "prompt: Wash the hands."
SECOND = "{id: second, label: second"
REQUIRES = "[nerve_before, eyewear, angle]"
BROKEN = [
    ("key twice", P, "id: small\n", "id: small\nversion: x\n", 'version: "1', "stands twice"),
    ("unknown key", P, "language: en-US", "language: en-US\nauthor: me", "author: me", "author: is not a key"),
    ("unknown key of a step", P, WASH, "promt: x", "    promt: x", "steps.2.promt: is not a key"),
    ("unknown key of a field", P, "{id: ring,", "{id: ring, lable: x,", "      - {id: ring", "lable: is not a key"),
    ("key is missing", P, 'version: "1.2.3"\n', "", "form: 1", "version: is missing"),
    ("another version of the form", P, "form: 1", "form: 2", "form: 2", "2 is none of 1"),
    ("version as a number", P, 'version: "1.2.3"', "version: 1.2", "version: 1.2", "three numbers in quotes"),
    ("identifier with a capital", P, "- id: hello", "- id: Hello", "  - id: Hello", "is no name"),
    ("unknown kind", P, "kind: tell", "kind: ask", "    kind: ask", "none of tell"),
    ("unknown phase", P, "kind: tell\n    phase: before", "kind: tell\n    phase: x", "    phase: x", "none of before"),
    ("a number for true", P, WASH, f"hard: 1\n    {WASH}", "    hard: 1", "neither true nor false"),
    ("yes is text in YAML 1.2", P, WASH, f"hard: yes\n    {WASH}", "    hard: yes", "neither true nor false"),
    ("prompt too long", P, WASH, "prompt: a b c d e f g h i j k l m.", "    prompt: a b c", "13 words"),
    ("unknown gap in a prompt", P, WASH, 'prompt: "Wash {hand}."', '    prompt: "Wash', "{hand} is not known"),
    ("side without sides", P, WASH, 'prompt: "Wash {side}."', '    prompt: "Wash', "needs for_each"),
    ("fields in a tell step", P, WASH, f"{WASH}\n    fields: [{RING}]", "  - id: hello", "takes no fields"),
    ("no fields in a finding", P, f"    fields:\n      - {RING}\n", "", "  - id: ring", "needs fields"),
    ("items outside teach", P, WASH, f"{WASH}\n    items: [{{id: a, say: b}}]", "  - id: hello", "items belongs"),
    ("zones outside expose", P, WASH, f"{WASH}\n    zones: open", "  - id: hello", "zones (open or strap)"),
    ("warmth outside expose", P, WASH, f"{WASH}\n    warmth: true", "  - id: hello", "belong to kind expose"),
    ("two kinds of value", P, "label: ring,", "label: ring, date: {},", "      - {id: ring", "exactly one of"),
    (
        "stop names no option",
        P,
        "stop: [stuck]",
        "stop: [glued]",
        "      - {id: ring",
        "no option of this field: glued",
    ),
    ("two classes", P, "stop: [stuck]", "stop: [stuck], red: [stuck]", "      - {id: ring", "have several: stuck"),
    ("phrase of two options", P, "stuck: [stuck]}", "stuck: [absent]}", "      - {id: ring", '"absent" means two'),
    ("low above high", P, "deg, low: -90,", "deg, low: 95,", "      - {id: wrist", "low 95 must be below high 90"),
    (
        "rise without a class",
        P,
        "rise: 1.0, class: amber",
        "rise: 1.0",
        "        compare: {with: nerve_before, r",
        "together",
    ),
    (
        "compared with a later step",
        P,
        "with: nerve_before, r",
        "with: next_care, r",
        "        compare: {with: next",
        "no earlier",
    ),
    ("two steps of one name", P, "- id: remark", "- id: hello", "  - id: hello\n    kind: choose", "two steps"),
    ("two labels alike", P, SECOND, "{id: second, label: first", "    fields:\n      - {id: first", "same label"),
    ("two fields of one name", P, SECOND, "{id: first, label: second", "    fields:\n      - {id: first", "same id"),
    (
        "unlisted source",
        P,
        f"{WASH}\n    source: common",
        f"{WASH}\n    source: book",
        "    source: book",
        "not listed",
    ),
    ("unused source", P, "sources: {", 'sources: {book: "a book", ', "sources: {", "book: no step uses it"),
    ("requires no step", P, REQUIRES, "[nerves, eyewear]", "    requires: [nerves", "nerves is no step"),
    ("requires a later step", P, REQUIRES, "[advice]", "    requires: [advice", "advice comes later"),
    (
        "requires a step left out",
        P,
        "kind: teach\n",
        "kind: teach\n    requires: [handover]\n",
        "    requires: [hand",
        "left out",
    ),
    (
        "when names no field",
        P,
        "next_care.place, is",
        "next_care.room, is",
        "    when: {step: next_care.room",
        "no field",
    ),
    ("when names no option", P, "is: [ward]", "is: [hotel]", "    when: {step: next_care", "no option"),
    (
        "repeat of no field",
        P,
        "fields: [first, second], t",
        "fields: [first, third], t",
        "    repeat_within",
        "no field",
    ),
    ("unknown band", P, "band: wrist}", "band: elbow}", "      - {id: wrist", "elbow is no band"),
    ("side_from is no side", P, "side_from: side.injured", "side_from: ring.ring", "side_from:", "left and right"),
    (
        "kind_from is no kind",
        P,
        "kind_from: session_kind.kind",
        "kind_from: ring.ring",
        "kind_from:",
        "live and practice",
    ),
    ("profile is missing", P, "device_profile: sleeve", "device_profile: glove", "device_profile:", "no profile glove"),
    (
        "no reason to override",
        P,
        "{reviewed: [reviewed by the senior], repaired: [put right], agreed: [colleague agrees]}",
        "{}",
        "override_r",
        "needs 1 or more",
    ),
    ("late question falls", P, "[60, 120]", "[120, 60]", "  - id: cure_strap", "earliest first"),
    ("strap zone is missing", D, ", strap_shadowed: true", "", "    zones: strap", "no zone for strap"),
    (
        "zone with two targets",
        D,
        "target_s: 5}",
        "target_s: 5, target_j_cm2: 1}",
        "  - {id: back",
        "either target_s or",
    ),
    ("zone without a target", D, "order: 2, target_s: 5}", "order: 2}", "  - {id: back", "either target_s or"),
    ("two zones of one order", D, "order: 2", "order: 1", "zones:", "same order"),
    ("sizes overlap", D, "from: 15.5", "from: 15.0", "size_chart:", "without overlap"),
    ("band is not nested", D, "confirm_from: 15", "confirm_from: 5", "  wrist: {low", "low <= confirm_from"),
    ("one irradiance only", L, "  - {distance_cm: 8.0, mw_cm2: 28}\n", "", "irradiance:", "needs 2 or more"),
    (
        "distance not measured",
        L,
        "stated_distance_cm: 3.0",
        "stated_distance_cm: 9.0",
        "irradiance:",
        "9 cm is outside",
    ),
    ("date in another form", L, '"2026-11-02"', '"02.11.2026"', "output_checked_on:", "is no day"),
    ("irradiance of zero", L, "mw_cm2: 70", "mw_cm2: 0", "  - {distance_cm: 3.0", "more than 0"),
    # Hard stops that a file could get around, and words that act at once: rules of this project.
    (
        "hard step behind a skippable one",
        P,
        "prompt: Ward or home?\n    hard: true",
        "prompt: Ward or home?",
        "    when: {step: next_care",
        "next_care may be skipped, and then nobody knows whether this hard step is needed (add hard: true",
    ),
    ("stop word as an answer", P, "warm: [warm]", "warm: [hot]", "      - {id: room", '"hot" holds a stop word'),
    ("stop word in a label", P, "label: room", "label: pain", "      - {id: room", '"pain" holds a stop word'),
    (
        "light without conditions",
        P,
        f"    requires: {REQUIRES}\n",
        "",
        "    kind: expose",
        "light needs steps that must",
    ),
    (
        "light step that may be skipped",
        P,
        "say light on.\n    hard: true",
        "say light on.",
        "    kind: expose",
        "never a step that may be skipped",
    ),
    (
        "side from a step that may be skipped",
        P,
        "Which side is it?\n    hard: true",
        "Which side is it?",
        "side_from:",
        "side may be skipped",
    ),
    ("role phrase of two roles", P, "nurse: [ward nurse]", "nurse: [surgeon]", "roles:", '"surgeon" means two'),
    ("tolerance below zero", P, "tolerance: 0.5", "tolerance: -1", "    repeat_within", "0 or more"),
    ("infinite tolerance", P, "tolerance: 0.5", "tolerance: .inf", "    repeat_within", "is no number"),
    ("rise of nothing", P, "rise: 1.0", "rise: 0", "        compare: {with: nerve_before, r", "more than 0"),
    (
        "list inside itself",
        P,
        "cautions: [The product's own instructions come first.]",
        "cautions: &a [*a]",
        "cautions:",
        "an anchor stands inside itself",
    ),
    (
        "repeat of a code",
        P,
        "    fields:\n      - {id: lot",
        "    repeat_within: {fields: [lot, expiry], tolerance: 1}\n    fields:\n      - {id: lot",
        "    repeat_within: {fields: [lot",
        "a field that is no number",
    ),
    (
        "band beyond the range",
        P,
        "deg, low: -90, high: 90",
        "deg, low: 60, high: 90",
        "      - {id: wrist",
        "no value could be taken",
    ),
    (
        "comparison in another unit",
        P,
        "number: {unit: s, low: 0.2, high: 10, decimals: 1, flag_above: 2.0, flag_class: amber}\n        compare",
        "number: {unit: min, low: 0.2, high: 10, decimals: 1}\n        compare",
        "        compare: {with: nerve_before, r",
        "another unit",
    ),
    (
        "comparison with two things",
        P,
        "compare: {with: nerve_before, rise: 1.0, class: amber}",
        "compare: {with: nerve_before, earlier: [nerve_before], rise: 1.0, class: amber}",
        "        compare: {with: nerve_before, earlier",
        "not both",
    ),
    (
        "comparison with nothing",
        P,
        "compare: {with: nerve_before, rise: 1.0, class: amber}",
        "compare: {rise: 1.0, class: amber}",
        "        compare: {rise",
        "needs with",
    ),
    (
        "sides that differ by nothing",
        P,
        "compare: {with: nerve_before, rise: 1.0, class: amber}",
        "sides: {class: amber}",
        "        sides: {class",
        "go together",
    ),
    (
        "sides of a step that is done once",
        P,
        "number: {unit: deg, low: -90, high: 90, decimals: 0, band: wrist}",
        "number: {unit: deg, low: -90, high: 90, decimals: 0, band: wrist}, sides: {differ: 5, class: amber}",
        "  - id: angle",
        "needs for_each: side",
    ),
    (
        "a value taken again after nothing",
        P,
        "number: {unit: s, low: 0.2, high: 10, decimals: 1, flag_above: 2.0, flag_class: amber}\n        compare: "
        "{with: nerve_before, rise: 1.0, class: amber}",
        "number: {unit: s, low: 0.2, high: 10, decimals: 1}\n        again: {say: Once more., class: red}",
        "        again: {say",
        "no value of refill is ever amber",
    ),
    (
        "a code taken again",
        P,
        "identifier: {max_length: 10}}",
        "identifier: {max_length: 10}, again: {say: Once more., class: red}}",
        "      - {id: lot",
        "again needs options or a number",
    ),
    (
        "due after a length",
        P,
        "number: {unit: deg, low: -90, high: 90, decimals: 0, band: wrist}",
        "number: {unit: cm, low: 0, high: 90, decimals: 0, due: true}",
        "      - {id: wrist",
        "due needs a unit of time",
    ),
    (
        "field with an unlisted source",
        P,
        "{id: room, label: room,",
        "{id: room, label: room, source: commn,",
        "      - {id: room",
        "did you mean common?",
    ),
    (
        "when of a step done for each side",
        P,
        "when: {step: next_care.place, is: [ward]}",
        "when: {step: nerve_before.touch, is: [intact]}",
        "    when: {step: nerve_before",
        "for each side",
    ),
]


def faults_of(folder, **texts):
    with pytest.raises(ProcedureFileError) as caught:
        load_bundle(str(write_files(folder, **texts)))
    return str(caught.value).replace(f"{folder}/", "").splitlines()


def changed(file, old, new):
    names = {P: "procedure", D: "device", L: "light"}
    text = {P: PROCEDURE, D: DEVICE, L: LIGHT}[file]
    assert text.count(old) >= 1, old
    return {names[file]: text.replace(old, new, 1)}


@pytest.mark.parametrize(("what", "file", "old", "new", "at", "words"), BROKEN, ids=[row[0] for row in BROKEN])
def test_every_fault_is_named_at_its_line(tmp_path, what, file, old, new, at, words):
    texts = changed(file, old, new)
    for name, text in {P: PROCEDURE, D: DEVICE, L: LIGHT}.items():
        text = texts.get({P: "procedure", D: "device", L: "light"}[name], text)
        position = ("\n" + text).find("\n" + at)
        if position >= 0:
            expected = f"{name}:{text[:position].count(chr(10)) + 1}: "
            break
    faults = faults_of(tmp_path, **texts)
    assert [line for line in faults if line.startswith(expected) and words in line], faults


def test_all_faults_are_told_at_once_in_the_order_of_the_file(tmp_path):
    text = PROCEDURE
    for old, new in [("kind: tell", "kind: ask"), ("language: en-US", "language: 5"), ("low: 0.2", "low: small")]:
        text = text.replace(old, new, 1)
    faults = faults_of(tmp_path, procedure=text)
    assert len(faults) == 3
    lines = [int(line.split(":")[1]) for line in faults]
    assert lines == sorted(lines)


def test_faults_of_all_three_files_are_told_together(tmp_path):
    texts = changed(P, "source: common", "source: book") | changed(D, "order: 2", "order: 1")
    texts |= changed(L, "stated_distance_cm: 3.0", "stated_distance_cm: 9.0")
    assert {line.split(":")[0] for line in faults_of(tmp_path, **texts)} == {P, D, L}


@pytest.mark.parametrize("text", ["form: 1\n\tid: x\n", "form: [1\n", "- a\n- b\n", "", "form: 1\n---\nform: 1\n"])
def test_what_is_no_mapping_in_yaml_is_refused_in_one_line(tmp_path, text):
    # YAML 1.2.2: no tabs for indentation (6.1); one document is a file of ours.
    faults = faults_of(tmp_path, procedure=text)
    assert len(faults) == 1
    assert faults[0].startswith("small.yaml:")


def test_bytes_that_are_no_text_are_refused(tmp_path):
    path = write_files(tmp_path)
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(ProcedureFileError, match="UTF-8"):
        load_bundle(str(path))


@pytest.mark.parametrize("name", ["no-such-procedure", "../small", "missing.yaml"])
def test_a_procedure_that_is_not_there_is_an_error_of_one_line(name):
    with pytest.raises(ProcedureFileError) as caught:
        load_bundle(name)
    assert len(str(caught.value).splitlines()) == 1


def test_a_clock_time_stays_text(tmp_path):
    # YAML 1.2.2 core schema (10.3): 12:30 is a string; YAML 1.1 readers make it 750.
    text = PROCEDURE.replace("title: A small invented procedure", "title: 12:30")
    assert load_bundle(str(write_files(tmp_path, text))).procedure.title == "12:30"


def test_numbers_keep_their_decimals(tmp_path):
    # A binary float of 0.2 is 0.200000000000000011 (IEEE 754); the file says 0.2.
    bundle = load_bundle(str(write_files(tmp_path)))
    field = next(step for step in bundle.procedure.steps if step.id == "nerve_before").fields[1]
    assert field.number is not None
    assert str(field.number.low) == "0.2"


def test_the_digest_covers_every_file(tmp_path):
    whole = load_bundle(str(write_files(tmp_path))).sha256
    digests = {whole}
    for file, old, new in [
        (P, "A small", "One small"),
        (D, "Invented sleeve", "A sleeve"),
        (L, "Invented lamp", "A lamp"),
    ]:
        digests.add(load_bundle(str(write_files(tmp_path, **changed(file, old, new)))).sha256)
    assert len(digests) == 4
    assert load_bundle(str(write_files(tmp_path))).sha256 == whole


def test_profiles_become_what_the_ledger_needs(tmp_path):
    bundle = load_bundle(str(write_files(tmp_path)))
    assert bundle.device is not None
    assert bundle.light is not None
    assert [zone.id for zone in zones_of(bundle.device)] == ["front", "back", "strip"]
    # At a measured distance the irradiance is the measured one.
    assert irradiance_of(bundle.light) == pytest.approx(70)


def test_a_faulty_profile_is_no_fault_of_the_procedure(tmp_path):
    assert len(faults_of(tmp_path, **changed(D, "from: 15.5", "from: 15.0"))) == 1
