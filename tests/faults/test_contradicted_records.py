"""A record whose hashes are right and whose values do not follow from its words is neither signed nor passed on."""

import shutil

import pytest
from forgery import forged, lines_of, values_changed
from record_visits import Visit
from review_window import act, ask, served

from handsfree.cli import main
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.verify import RecordState, verify


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    folder = tmp_path_factory.mktemp("whole") / "r"
    Visit("neurovascular-check", folder).start().finish()
    return folder


@pytest.fixture
def honest(whole, tmp_path):
    return shutil.copytree(whole, tmp_path / "honest")


@pytest.fixture
def contradicted(whole, tmp_path):
    """A stored value was changed and every hash made right again."""

    def change(lines):
        seq = next(n for n, line in enumerate(lines) if line.kind == "reading_confirmed" and "'1.4'" in str(line.data))
        lines[seq] = values_changed(lines[seq], '"value":"1.4"', '"value":"1.3"')

    folder = forged(shutil.copytree(whole, tmp_path / "r"), change)
    assert verify(folder).state is RecordState.COMPLETE
    return folder


def commands(folder, tmp_path):
    yield ["attest", folder, "--by", "surgeon", "--key-file", tmp_path / "key"]
    yield from (
        ["export", folder, "--to", form, "--allow-practice", "--output", tmp_path / form]
        for form in ("fhir", "csv", "note")
    )


@pytest.mark.parametrize("number", range(4))
def test_it_is_refused_in_one_line_that_names_the_first_fault(contradicted, tmp_path, capsys, number):
    before = (contradicted / RECORD_FILE).read_bytes()
    with pytest.raises(SystemExit) as left:
        main([str(part) for part in list(commands(contradicted, tmp_path))[number]])
    told = capsys.readouterr().err
    assert left.value.code == 8
    assert len(told.splitlines()) == 1
    assert "what it states does not follow from what was heard: line " in told
    assert (contradicted / RECORD_FILE).read_bytes() == before
    assert not {"fhir", "csv", "note"} & {path.name for path in tmp_path.iterdir()}


def test_an_honest_one_is_signed_and_passed_on_without_a_word(honest, tmp_path, capsys):
    for command in commands(honest, tmp_path):
        main([str(part) for part in command])
        assert capsys.readouterr().err == ""
    assert verify(honest).state is RecordState.ATTESTED
    assert {"fhir", "csv", "note"} <= {path.name for path in tmp_path.iterdir()}


def test_where_it_cannot_be_replayed_that_is_said(honest, tmp_path, capsys):
    def renamed(lines):
        for seq, line in enumerate(lines):
            if line.kind in ("header", "visit_begun"):
                lines[seq] = values_changed(line, '"neurovascular-check"', '"of-our-own"')

    forged(honest, renamed)
    for command in commands(honest, tmp_path):
        main([str(part) for part in command])
        assert capsys.readouterr().err == "not replayed: of-our-own is not bundled; give its file with --procedure\n"


def test_the_page_of_a_review_says_so_and_offers_nothing(contradicted, tmp_path):
    before = lines_of(contradicted)
    with served(contradicted, tmp_path / "key") as server:
        server.folder = contradicted
        page = ask(server, "GET", f"/{server.token}/")[2].decode()
        assert "BROKEN: altered or incomplete" in page
        assert "replay gives reading_confirmed" in page
        assert "Attest this record" not in page
        status, answer = act(server, "attest", {"by": "surgeon"})
    assert status == 400
    assert "what it states does not follow from what was heard" in answer["refused"]
    assert lines_of(contradicted) == before


def test_the_page_of_an_honest_record_offers_to_attest(honest, tmp_path):
    with served(honest, tmp_path / "key") as server:
        server.folder = honest
        page = ask(server, "GET", f"/{server.token}/")[2].decode()
        assert "Attest this record" in page
        assert "replay gives" not in page
        assert act(server, "attest", {"by": "surgeon"})[0] == 200
