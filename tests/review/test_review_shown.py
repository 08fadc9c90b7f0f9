"""Who signs signs what was shown: an action carries the head of the page, and a page that is behind does nothing."""

import pytest
from report_visits import rehearsed
from review_window import act, ask, copied, served

from handsfree.cli import main
from handsfree.errors import UsageError
from handsfree.model.readings import Option
from handsfree.record import amendments
from handsfree.record.amendments import amend, attest, delete_clips
from handsfree.record.clips import Retention
from handsfree.record.contents import Amended
from handsfree.record.journal import MovedOnError
from handsfree.record.signing import installation_key
from handsfree.record.verify import RecordState, verify


@pytest.fixture(scope="module")
def checked(tmp_path_factory):
    pytest.importorskip("soundfile", reason="keeping sound needs the speech packages")
    folder = tmp_path_factory.mktemp("checked")
    rehearsed("light-output-check", folder, clips=True, understood=True)
    return folder


@pytest.fixture
def review(checked, tmp_path):
    with served(copied(checked, tmp_path / "record"), tmp_path / "signing.key") as server:
        server.folder = tmp_path / "record"
        yield server


@pytest.fixture
def entry(review):
    """Entry of the reading of the window."""
    record = verify(review.folder).record
    return next(one.recorded.seq for one in record.readings if one.stands.field == "window")


def window_is(folder, entry, value, by="surgeon", reason="seen again"):
    amend(folder, entry, Amended(value=Option(value)), by=by, reason=reason)


def head_on_page(server):
    page = ask(server, "GET", f"/{server.token}/")[2].decode()
    return page.partition('data-head="')[2].partition('"')[0]


def actions(entry, head):
    who = {"by": "technician", "reason": "misheard", "head": head}
    return {
        "amend": {"entry": entry, "member": "value", "value": "scratched", **who},
        "verify": {"entry": entry, **who},
        "attest": {**who, "delete_sound": True},
    }


def test_the_page_carries_the_head_that_it_shows(review):
    assert head_on_page(review) == verify(review.folder).head_hash


@pytest.mark.parametrize("action", ["amend", "verify", "attest"])
def test_a_page_that_is_behind_does_nothing_and_is_told_what_is_new(review, entry, action):
    head = head_on_page(review)
    window_is(review.folder, entry, "dirty")
    before = (review.folder / "record.jsonl").read_bytes()
    status, answer = act(review, action, actions(entry, head)[action])
    assert status == 409
    assert "moved on since this page was shown" in answer["refused"]
    assert [words.partition(", 2")[0] for words in answer["news"]] == [
        f"entry {entry}: value clean → value dirty, by surgeon"
    ]
    assert (review.folder / "record.jsonl").read_bytes() == before
    assert len(list((review.folder / "clips").iterdir())) > 1


def test_everything_that_is_new_is_told_in_its_order(review, entry, tmp_path):
    head = head_on_page(review)
    window_is(review.folder, entry, "dirty")
    gone = delete_clips(review.folder, reason="asked for")
    attest(review.folder, installation_key(tmp_path / "key"), by="surgeon")
    status, answer = act(review, "attest", actions(entry, head)["attest"])
    assert status == 409
    assert [words.split(",")[0] for words in answer["news"]] == [
        f"entry {entry}: value clean → value dirty",
        "attested by surgeon",
        f"sound of {gone} utterances deleted",
    ]


@pytest.mark.parametrize("head", ["", None, 5])
def test_an_action_without_a_head_is_refused(review, entry, head):
    status, answer = act(review, "attest", actions(entry, head)["attest"])
    assert (status, "needs the head hash that the page showed" in answer["refused"]) == (400, True)


def test_an_action_with_a_head_that_was_never_shown_is_refused(review, entry):
    status, answer = act(review, "attest", actions(entry, "0" * 64)["attest"])
    assert (status, answer["news"]) == (409, [])
    assert verify(review.folder).state is RecordState.COMPLETE


def test_a_second_amendment_of_an_entry_says_so_first(review, entry):
    given = {"entry": entry, "member": "value", "by": "technician", "reason": "misheard"}
    assert act(review, "amend", {**given, "value": "dirty"})[0] == 200
    status, answer = act(review, "amend", {**given, "value": "clean"})
    assert status == 400
    assert f"entry {entry} was amended before (value clean → value dirty, by technician" in answer["refused"]
    page = ask(review, "GET", f"/{review.token}/")[2].decode()
    assert 'data-before="value clean → value dirty, by technician' in page
    assert act(review, "amend", {**given, "value": "clean", "again": True})[0] == 200
    assert len(verify(review.folder).record.amendments) == 2


def test_the_command_line_says_that_an_entry_was_amended_before(review, entry, capsys, tmp_path):
    given = ["--entry", str(entry), "--by", "technician", "--reason", "misheard"]
    main(["amend", str(review.folder), "--value", "dirty", *given])
    assert "before" not in capsys.readouterr().err
    (line,) = (one.seq for one in verify(review.folder).record.amendments)
    main(["amend", str(review.folder), "--value", "clean", *given])
    assert capsys.readouterr().err == f"entry {entry} was amended before, by entry {line}\n"


def raced(monkeypatch, folder, entry):
    """Let another process amend between the look at a record and the claim of it."""
    real = amendments.verify
    first = []

    def late(path, **how):
        found = real(path, **how)
        if not first:
            first.append(path)
            window_is(folder, entry, "dirty")
        return found

    monkeypatch.setattr(amendments, "verify", late)


def test_what_another_process_adds_in_between_stops_an_amendment(review, entry, monkeypatch):
    raced(monkeypatch, review.folder, entry)
    with pytest.raises(MovedOnError, match="has changed since it was looked at; nothing was added"):
        window_is(review.folder, entry, "scratched")
    assert [one.now.value for one in verify(review.folder).record.amendments] == [Option("dirty")]


def test_what_another_process_adds_in_between_stops_an_attestation(review, entry, monkeypatch, tmp_path):
    raced(monkeypatch, review.folder, entry)
    with pytest.raises(MovedOnError):
        attest(review.folder, installation_key(tmp_path / "key"), by="x", retention=Retention.UNTIL_ATTESTED)
    assert verify(review.folder).record.attestations == ()
    assert len(list((review.folder / "clips").iterdir())) > 1


def test_an_amendment_that_does_not_fit_is_no_news(review, entry):
    with pytest.raises(UsageError):
        amend(review.folder, 1, Amended(verified=True), by="x", reason="y", shown=verify(review.folder).head_hash)


def test_a_window_that_is_behind_shows_what_is_new_and_loads_it(window, review, entry):
    page = window.page
    page.goto(review.address)
    window_is(review.folder, entry, "dirty")
    page.locator("#attest-by").fill("therapist")
    page.get_by_role("button", name="Attest this record").click()
    page.get_by_text("Refused: the record has moved on since this page was shown").wait_for()
    window.complaints[:] = [line for line in window.complaints if "status of 409" not in line]  # as it must
    assert "value clean → value dirty, by surgeon" in page.locator("#attest-fault li").text_content()
    assert verify(review.folder).state is RecordState.COMPLETE
    page.get_by_role("button", name="Show the record as it is now").click()
    page.get_by_role("button", name="Amend Condition, window").click()
    assert "value clean → value dirty" in page.locator("#act-earlier").text_content()
    assert page.locator("#act-before").is_visible()
    page.locator("#act-value").fill("clean")
    page.locator("#act-reason").fill("looked twice")
    page.locator("#act-by").fill("technician")
    page.get_by_role("button", name="Add to the record").click()
    page.get_by_role("status").get_by_text("amended by entry").wait_for()
    assert [one.by for one in verify(review.folder).record.amendments] == ["surgeon", "technician"]
