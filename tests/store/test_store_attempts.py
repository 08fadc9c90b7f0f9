"""Progress of learners out of a store: what the commands say of a file of attempts, they say of the store as well."""

import json
import shutil

import pytest
from store_rooms import later

from handsfree.cli import main
from handsfree.errors import StoreError
from handsfree.practice.attempt_lines import SCORED, AttemptOutcome, AttemptScored
from handsfree.practice.attempts import AttemptStore
from handsfree.practice.rating import ITEMS, Marks
from handsfree.record.signing import installation_key

ASKED = [
    ["show", "L-01"],
    ["show", "L-02"],
    ["csv"],
    ["agreement", "R-01", "R-02"],
]


def scored(store, trainee, number, *, passed):
    members = AttemptScored(
        trainee=trainee,
        scenario="low-battery",
        version="0.1.0",
        procedure="light-output-check",
        record_id=f"{trainee}-{number}",
        head="00",
        passed=passed,
        points=50 if passed else 30,
        possible=54,
        percent=92.6 if passed else 55.6,
        rules=(),
        table="practice-points 0.1.0",
        scripted=None,
    )
    store._append(SCORED, members.model_dump(mode="json"))


def a_file(path, trainees=("L-01", "L-02"), start=0):
    store = AttemptStore(path, later(start))
    for number in range(4):
        for trainee in trainees:
            scored(store, trainee, number, passed=number > 1)
            for rater, mark in (("R-01", 3), ("R-02", 3 + number % 2)):
                store.add_rating(f"{trainee}-{number}", rater, Marks(dict.fromkeys(ITEMS, mark), passed=number > 1))
    store.sign(
        trainees[0], "A-01", "senior therapist", AttemptOutcome.SUPERVISED, installation_key(path.parent / "key")
    )
    return store


def told(capsys, asked, place):
    capsys.readouterr()
    try:
        main(["progress", *asked, "--attempts", str(place)])
        code = 0
    except SystemExit as left:
        code = int(left.code or 0)
    said = capsys.readouterr()
    return code, said.out, said.err


@pytest.mark.parametrize("user", ["room_1", "trainer", "reviewer"])
def test_progress_says_the_same_of_a_file_and_of_a_store(store, tmp_path, capsys, user):
    path = tmp_path / "attempts.jsonl"
    count = len(a_file(path).lines())
    for sent in (count, 0):
        capsys.readouterr()
        main(["store", "push-attempts", "--attempts", str(path), "--to", store.address("room_1")])
        assert capsys.readouterr().out == f"{sent} of {count} lines sent\n"
    for asked in ASKED:
        of_file = told(capsys, asked, path)
        assert told(capsys, asked, store.address(user)) == of_file
        assert (of_file[0], of_file[1] != "") == (0, True), asked
    assert "supervised" in told(capsys, ["show", "L-01"], store.address(user))[1]


def test_files_of_two_rooms_are_shown_together_and_each_room_sees_its_own(store, tmp_path, capsys):
    for number, user in ((1, "room_1"), (2, "room_2")):
        path = tmp_path / str(number) / "attempts.jsonl"
        path.parent.mkdir()
        a_file(path, (f"L-0{number}", f"L-1{number}"), start=number)
        main(["store", "push-attempts", "--attempts", str(path), "--to", store.address(user)])
    rows = told(capsys, ["csv"], store.address("trainer"))[1]
    assert all(f"L-{who}" in rows for who in ("01", "11", "02", "12"))
    assert "L-02" not in told(capsys, ["csv"], store.address("room_1"))[1]
    alone = told(capsys, ["show", "L-02"], tmp_path / "2" / "attempts.jsonl")
    assert told(capsys, ["show", "L-02"], store.address("trainer")) == alone


def test_a_file_that_was_written_anew_is_refused(store, tmp_path):
    from handsfree.store.attempt_books import push_attempts

    path = tmp_path / "attempts.jsonl"
    first = a_file(path).lines()
    push_attempts(store.address(), "attempts", list(first))
    shutil.move(path, tmp_path / "before.jsonl")
    other = a_file(path, start=99).lines()
    with pytest.raises(StoreError, match=r"goes on otherwise there, after .* lines; give it another --name"):
        push_attempts(store.address(), "attempts", list(other))
    assert push_attempts(store.address(), "other", list(other)) == len(other)
    altered = [json.loads(line.raw) for line in other]
    assert altered[0]["kind"] == SCORED
