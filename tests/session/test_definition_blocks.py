"""Blocks put in place: what the written-out procedure is, and at which line of which file a fault is named."""

import pytest
from procedure_files import PROCEDURE, write_files

from handsfree.definition.loader import load_bundle
from handsfree.definition.source_lines import parse_source
from handsfree.errors import ProcedureFileError

# The form of blocks is this project's own; no other source.
NERVE = """\
form: 1
blocks:
  nerve:
    needs: [id, timing]
    defaults: {compare: null, more: [], say: pulse}
    steps:
      - id: nerve_<id>
        kind: finding
        phase: before
        prompt: "Touch, <say>?"
        hard: true
        source: book
        timing: <timing>
        fields:
          - id: touch
            label: touch
            options: {intact: [intact], absent: [absent]}
            scale: [intact, absent]
            compare: <compare>
            red: [absent]
          - <more>
          - {id: pulse, label: pulse, options: {present: [present], missing: [missing]}}
  twice:
    needs: [first]
    steps:
      - use: nerve
        with: {id: <first>_one, timing: during}
      - use: nerve
        with: {id: <first>_two, timing: during}
sources: {book: "a book", other: "never used"}
roles: {nurse: [charge nurse], doctor: [doctor]}
"""
USES = """\
  - use: nerve
    with: {id: early, timing: baseline}
  - use: nerve
    with:
      id: late
      timing: after
      compare: {with: nerve_early, worse: red}
      more:
        - {id: web, label: web, options: {intact: [intact], absent: [absent]}}
"""


def with_blocks(folder, uses=USES, blocks=NERVE, include="include: [nerve]\n"):
    (folder / "blocks").mkdir(exist_ok=True)
    (folder / "blocks" / "nerve.yaml").write_text(blocks, encoding="utf-8")
    text = PROCEDURE.replace("steps:\n", f"{include}steps:\n", 1) + uses
    return write_files(folder, text)


def steps_of(path):
    return {step.id: step for step in load_bundle(str(path)).procedure.steps}


def faults_of(path):
    with pytest.raises(ProcedureFileError) as caught:
        load_bundle(str(path))
    return str(caught.value).replace(f"{path.parent}/", "").splitlines()


def line_of(text, start):
    return next(number for number, line in enumerate(text.splitlines(), 1) if line.startswith(start))


def test_a_block_stands_for_its_steps_with_the_gaps_filled(tmp_path):
    steps = steps_of(with_blocks(tmp_path))
    early, late = steps["nerve_early"], steps["nerve_late"]
    assert early.timing == "baseline"
    assert early.prompt == "Touch, pulse?"
    assert early.fields[0].compare is None
    assert [field.id for field in early.fields] == ["touch", "pulse"]
    assert late.fields[0].compare is not None
    assert late.fields[0].compare.with_ == "nerve_early"
    assert [field.id for field in late.fields] == ["touch", "web", "pulse"]


def test_a_written_out_procedure_is_the_same(tmp_path):
    steps = steps_of(with_blocks(tmp_path))
    plain = {step: value for step, value in steps.items() if not step.startswith("nerve_early")}
    assert set(plain) == set(steps) - {"nerve_early"}
    by_hand = (
        "  - {id: nerve_early, kind: finding, phase: before, prompt: 'Touch, pulse?', hard: true, source: common,\n"
        "     timing: baseline, fields: [{id: touch, label: touch, options: {intact: [intact], absent: [absent]},\n"
        "     scale: [intact, absent], red: [absent]},\n"
        "     {id: pulse, label: pulse, options: {present: [present], missing: [missing]}}]}\n"
    )
    (tmp_path / "hand").mkdir()
    written = load_bundle(str(write_files(tmp_path / "hand", PROCEDURE + by_hand))).procedure.steps[-1]
    assert written == steps["nerve_early"].model_copy(update={"source": "common"})


def test_blocks_in_blocks_and_repeats(tmp_path):
    uses = "  - use: twice\n    repeat: {first: [left_hand, right_hand]}\n"
    names = [name for name in steps_of(with_blocks(tmp_path, uses)) if name.startswith("nerve_") and "hand" in name]
    assert names == [
        "nerve_left_hand_one",
        "nerve_left_hand_two",
        "nerve_right_hand_one",
        "nerve_right_hand_two",
    ]


def test_steps_are_left_out_and_conditions_added(tmp_path):
    uses = "  - use: twice\n    with: {first: a}\n    without: [nerve_a_one]\n"
    uses += "    when: {step: next_care.place, is: [ward]}\n"
    steps = steps_of(with_blocks(tmp_path, uses))
    assert "nerve_a_one" not in steps
    assert steps["nerve_a_two"].when is not None
    assert steps["nerve_a_two"].when.is_ == ("ward",)


def test_only_sources_that_are_used_are_taken_over_and_own_entries_win(tmp_path):
    procedure = load_bundle(str(with_blocks(tmp_path))).procedure
    assert set(procedure.sources) == {"common", "book"}
    assert procedure.roles["nurse"] == ("ward nurse",)
    assert procedure.roles["doctor"] == ("doctor",)


def test_the_digest_covers_the_blocks(tmp_path):
    one = load_bundle(str(with_blocks(tmp_path))).sha256
    two = load_bundle(str(with_blocks(tmp_path, blocks=NERVE.replace('"a book"', '"another book"')))).sha256
    assert one != two


U, N = "small.yaml", "blocks/nerve.yaml"
# What is wrong, uses, blocks, file and beginning of the line at fault, words of the message.
BROKEN = [
    ("no such block", USES.replace("use: nerve", "use: nerv", 1), NERVE, U, "  - use: nerv", "did you mean nerve?"),
    ("a gap is not filled", USES.replace("id: early, ", ""), NERVE, U, "    with: {timing", "needs id"),
    ("no such gap", USES.replace("{id: early", "{idd: x, id: early"), NERVE, U, "    with: {idd", "has no gap idd"),
    ("unknown key of a use", USES.replace("    with: {id", "    wth: {id"), NERVE, U, "    wth: {id", "is not a key"),
    (
        "what fills a gap is wrong",
        USES.replace("baseline", "earlier"),
        NERVE,
        U,
        "    with: {id: early",
        "none of baseline",
    ),
    (
        "a comparison that fills a gap",
        USES.replace("nerve_early", "nerve_x"),
        NERVE,
        U,
        "      compare",
        "no earlier step",
    ),
    ("a fault in the block", USES, NERVE.replace("kind: finding", "kind: find"), N, "        kind: find", "did you"),
    ("an unknown key in the block", USES, NERVE.replace("hard: true", "hrd: true"), N, "        hrd", "is not a key"),
    ("an unknown gap", USES, NERVE.replace("<say>", "<tell>"), N, "        prompt", "<tell> is not among needs or"),
    (
        "a list in a text",
        USES.replace("id: early,", "id: [early],"),
        NERVE,
        U,
        "    with: {id: [",
        "filled with a text",
    ),
    (
        "a block inside itself",
        "  - use: twice\n    with: {first: a}\n",
        NERVE.replace(
            "use: nerve\n        with: {id: <first>_one, timing: during}", "use: twice\n        with: {first: b}"
        ),
        N,
        "      - use: twice",
        "stands inside itself",
    ),
    ("left out and not there", USES + "    without: [nerve_x]\n", NERVE, U, "    without", "has no step nerve_x"),
    (
        "two conditions",
        USES + "    when: {step: next_care.place, is: [home]}\n",
        NERVE.replace(
            "        timing: <timing>", "        when: {step: ring.ring, is: [absent]}\n        timing: <timing>"
        ),
        U,
        "    when: {step: next_care.place, is: [home]}",
        "has its own when",
    ),
    (
        "a key twice in the block",
        USES,
        NERVE.replace("        hard: true\n", "        hard: true\n        hard: true\n"),
        N,
        "",
        "twice",
    ),
    (
        "a long prompt in a block",
        USES,
        NERVE.replace("<say>?", "a b c d e f g h i j k l?"),
        N,
        "        prompt",
        "words",
    ),
    ("the form of the block file", USES, NERVE.replace("form: 1", "form: 2"), N, "form: 2", "at most 1"),
]


@pytest.mark.parametrize(("what", "uses", "blocks", "file", "at", "words"), BROKEN, ids=[row[0] for row in BROKEN])
def test_a_fault_is_named_where_it_is_written(tmp_path, what, uses, blocks, file, at, words):
    path = with_blocks(tmp_path, uses, blocks)
    text = (tmp_path / file).read_text(encoding="utf-8")
    tail = text if file == N else text[text.index("include:") :]
    line = line_of(tail, at) + (text.count("\n") - tail.count("\n")) if at else 0
    expected = f"{file}:{line}: " if at else f"{file}:"
    assert [fault for fault in faults_of(path) if fault.startswith(expected) and words in fault], faults_of(path)


def test_a_fault_of_a_block_that_is_used_twice_is_told_once(tmp_path):
    assert len(faults_of(with_blocks(tmp_path, blocks=NERVE.replace("source: book", "source: bok")))) == 1


@pytest.mark.parametrize(
    ("include", "words"),
    [
        ("include: [nothing]\n", "there is no file nothing.yaml"),
        ("include: nerve\n", "must be a list"),
        ("include: [../nerve]\n", "no name of a block file"),
    ],
)
def test_an_included_file_that_is_not_there(tmp_path, include, words):
    path = with_blocks(tmp_path, include=include)
    line = line_of(path.read_text(encoding="utf-8"), "include")
    assert [fault for fault in faults_of(path) if fault.startswith(f"small.yaml:{line}: ") and words in fault]


def test_the_same_text_read_twice_is_two_readings():
    # Own rule of this project: what is kept of a text (its nodes) is never what a reading changes.
    text = "id: small\nsteps:\n  - {id: first, fields: [lot]}\n"
    one, other = parse_source(text, "one"), parse_source(text, "other")
    assert (one.origin_of(("steps", 0, "id")).file, other.origin_of(("steps", 0, "id")).file) == ("one", "other")
    one.data["steps"][0]["fields"].append("expiry")
    one.fault(("id",), "taken")
    assert other.data == {"id": "small", "steps": [{"id": "first", "fields": ["lot"]}]}
    assert other.described_faults() == []
    assert parse_source(text, "third").data == other.data
