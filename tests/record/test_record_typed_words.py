"""What was typed and taken follows from its words when the record is replayed, also where only a part was missing.

No published source: the record is this project's own form.
"""

import subprocess
import sys

import pytest

LINES = (
    "practice session",
    "hand therapist",
    # Words at a question for a code are refused, and the refused line is on record.
    "order present, image reviewed",
    "kilo four",
    "affirmative",
    "order present, image reviewed, alignment accepted, rotation absent",
    "bone fifth metacarpal, mechanism fall",
    "november twenty four twenty twenty six",
    "affirmative",
    "first full name, second birth date, identity matching",
    "affirmative",
    "given",
    "order right, consent right, image right, patient right, mark right",
    "affirmative",
    "wound absent",
    "the rest absent",
    "affirmative",
    "vascular absent",
    "none",
    "affirmative",
    "end the visit",
    "clinician's judgement",
    "no",
    "affirmative",
)


def run(*arguments, lines=()):
    return subprocess.run(
        [sys.executable, "-m", "handsfree", *arguments],
        input="\n".join(lines),
        capture_output=True,
        text=True,
        timeout=120,
    )


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    folder = tmp_path_factory.mktemp("typed") / "r"
    run("run", "ulnar-splint-fitting", "--typed", "--practice", "--record", str(folder), lines=LINES)
    return run("verify", str(folder)).stdout


def test_every_line_means_what_it_was_taken_for(told):
    assert "readings confirmed: " in told
    assert "do not mean" not in told
    assert "does not follow" not in told
