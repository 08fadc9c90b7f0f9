"""Who may talk to a review, and what it does; plain HTTP, no browser.

Rules from published texts: Host and Origin checks against DNS rebinding and cross-site requests (OWASP Cross-Site
Request Forgery Prevention, "verifying origin with standard headers"), no-store (RFC 9111 5.2.2.5), sizes (RFC 9110
15.5.14).
"""

import contextlib
import shutil
import socket
import struct

import pytest
from report_visits import rehearsed
from review_window import act, ask, copied, served

from handsfree.cli import main
from handsfree.model.readings import Option
from handsfree.record.clips import Retention
from handsfree.record.signing import installation_key, public_hex
from handsfree.record.verify import RecordState, verify


@pytest.fixture(scope="module")
def checked(tmp_path_factory):
    pytest.importorskip("soundfile", reason="keeping sound needs the speech packages")
    folder = tmp_path_factory.mktemp("checked")
    rehearsed("light-output-check", folder, clips=True, understood=True)
    return folder


@pytest.fixture(scope="module")
def standing(checked, tmp_path_factory):
    """A review that refuses; its record stays as it is."""
    place = tmp_path_factory.mktemp("standing")
    with served(copied(checked, place / "record"), place / "signing.key") as server:
        server.folder = place / "record"
        yield server


@pytest.fixture
def review(checked, tmp_path):
    with served(copied(checked, tmp_path / "record"), tmp_path / "signing.key") as server:
        server.folder = tmp_path / "record"
        yield server


def lines_of(server):
    return (server.folder / "record.jsonl").read_bytes()


def reading(server, field):
    record = verify(server.folder).record
    return next(item for item in record.readings if item.stands.field == field and item.superseded_by is None)


def test_the_page_is_there_for_whoever_has_the_address(standing):
    status, headers, body = ask(standing, "GET", f"/{standing.token}/")
    assert status == 200
    assert b"<h1>Checking the output of a curing light</h1>" in body
    assert headers["Cache-Control"] == "no-store"
    assert headers["Referrer-Policy"] == "no-referrer"
    assert "frame-ancestors 'none'" in headers["Content-Security-Policy"]
    assert "connect-src 'self'" in headers["Content-Security-Policy"]
    assert standing.server_address[0] == "127.0.0.1"


def test_what_is_no_page_may_run_nothing(standing):
    _, headers, _ = ask(standing, "GET", f"/{standing.token}/nowhere")
    assert headers["Content-Security-Policy"] == "default-src 'none'; frame-ancestors 'none'"


@pytest.mark.parametrize("path", ["/", "//", "/wrong/", "/{short}/", "/{token}", "/{token}x/", "/%E4/"])
def test_a_wrong_address_is_refused(standing, path):
    path = path.format(short=standing.token[:-1], token=standing.token)
    status, _, body = ask(standing, "GET", path)
    assert status == 403
    assert b"address is not that of this review" in body


@pytest.mark.parametrize("host", ["localhost:{port}", "evil.invalid", "127.0.0.1", "127.0.0.1:1", ""])
def test_another_host_name_is_refused(standing, host):
    status, _, body = ask(standing, "GET", f"/{standing.token}/", Host=host.format(port=standing.server_address[1]))
    assert status == 403
    assert b"loopback" in body


@pytest.mark.parametrize("origin", [None, "null", "https://evil.invalid", "http://127.0.0.1:1"])
def test_another_origin_may_do_nothing(standing, origin):
    before = lines_of(standing)
    entry = reading(standing, "window").recorded.seq
    given = {"entry": entry, "member": "value", "value": "dirty", "by": "technician", "reason": "misheard"}
    status, answer = act(standing, "amend", given, Origin=origin)
    assert status == 403
    assert "only the page" in answer["refused"]
    assert lines_of(standing) == before


def test_an_amendment_is_added_beside_the_original(review):
    item = reading(review, "window")
    before = lines_of(review)
    given = {"entry": item.recorded.seq, "member": "value", "value": "dirty", "by": "technician", "reason": "misheard"}
    status, answer = act(review, "amend", given)
    assert (status, list(answer)) == (200, ["done"])
    after = reading(review, "window")
    assert (after.recorded.fact.value, after.stands.value) == (Option("clean"), Option("dirty"))
    assert (after.amendments[0].by, after.amendments[0].reason) == ("technician", "misheard")
    assert after.amendments[0].at == "2026-11-25T12:00:00.000Z"
    assert lines_of(review).startswith(before)
    assert verify(review.folder).state is RecordState.COMPLETE


@pytest.mark.parametrize(
    ("action", "change", "words"),
    [
        ("amend", {"reason": ""}, "needs a role and a reason"),
        ("amend", {"reason": "   "}, "needs a role and a reason"),
        ("amend", {"reason": None}, "needs a role and a reason"),
        ("amend", {"by": " "}, "needs a role and a reason"),
        ("amend", {"value": " "}, "needs what is right"),
        ("amend", {"member": "class"}, "needs the number of an entry and what"),
        ("amend", {"entry": "1"}, "needs the number of an entry and what"),
        ("amend", {"entry": True}, "needs the number of an entry and what"),
        ("amend", {"entry": 1}, "is not a reading or note"),
        ("amend", {"value": "clean"}, "nothing would change"),
        ("amend", {"value": "spotless"}, "is not on the list of window"),
        ("verify", {}, "cannot be amended"),
        ("verify", {"entry": None}, "its number is needed"),
        ("attest", {"by": ""}, "needs a role"),
    ],
)
def test_what_does_not_fit_is_refused_and_nothing_is_added(standing, action, change, words):
    before = lines_of(standing)
    entry = reading(standing, "window").recorded.seq
    given = {"entry": entry, "member": "value", "value": "dirty", "by": "technician", "reason": "misheard", **change}
    status, answer = act(standing, action, given)
    assert status == 400
    assert words in answer["refused"]
    assert lines_of(standing) == before


@pytest.mark.parametrize("body", [b"", b"[]", b"{", b"\xff", b"1", b"[" * 60_000])
def test_what_is_no_object_is_refused(standing, body):
    status, answer = act(standing, "amend", body)
    assert status == 400
    assert answer["refused"] == "the request is no JSON object"


def test_other_content_is_refused(standing):
    # A form of another site can send these without asking (Fetch standard, CORS-safelisted request-header).
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data"):
        assert act(standing, "attest", {"by": "x"}, **{"Content-Type": kind})[0] == 415


def test_too_much_is_refused(standing):
    status, answer = act(standing, "amend", b"{" * 65_537)
    assert status == 413
    assert "65536" in answer["refused"]


@pytest.mark.parametrize("length", ["", "-1", "ten", "²", "9" * 19, "9" * 5000])
def test_a_length_that_is_none_is_refused(standing, length):
    with socket.create_connection(standing.server_address[:2], timeout=10) as raw:
        head = (
            f"POST /{standing.token}/amend HTTP/1.0\r\nHost: {standing.host}\r\nOrigin: {standing.origin}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {length}\r\n\r\n"
        )
        raw.sendall(head.encode("latin-1"))
        assert b" 411 " in raw.makefile("rb").readline()


def test_unknown_places_and_methods_lead_nowhere(standing):
    assert ask(standing, "GET", f"/{standing.token}/../../etc/passwd")[0] == 404
    assert ask(standing, "GET", f"/{standing.token}/clip/../record.jsonl")[0] == 404
    assert act(standing, "delete", {})[0] == 404
    assert ask(standing, "PUT", f"/{standing.token}/")[0] == 501


def test_only_sound_that_the_record_names_is_played(review):
    record = verify(review.folder).record
    sha256 = record.clips[0][1]
    status, headers, sound = ask(review, "GET", f"/{review.token}/clip/{sha256}")
    assert (status, headers["Content-Type"], sound[:4]) == (200, "audio/flac", b"fLaC")  # RFC 9639: the marker
    (review.folder / "clips" / f"{'0' * 64}.flac").write_bytes(b"fLaC")
    assert ask(review, "GET", f"/{review.token}/clip/{'0' * 64}")[0] == 404


def test_attesting_signs_and_can_delete_the_sound_first(review):
    status, answer = act(review, "attest", {"by": "therapist", "delete_sound": True})
    assert status == 200
    found = verify(review.folder)
    assert found.state is RecordState.ATTESTED
    assert answer["done"] == f"Attested. Head hash: {found.head_hash}"
    assert found.record.attestation.by == "therapist"
    assert list((review.folder / "clips").iterdir()) == []
    status, answer = act(review, "attest", {"by": "therapist"})
    assert status == 400
    assert "attested already" in answer["refused"]


def test_what_is_added_after_attesting_is_signed_with_the_key_of_the_installation(broken_off_note, tmp_path):
    server, entry = broken_off_note
    given = {"by": "therapist", "because": "seen in the emergency room"}
    assert act(server, "attest", given)[0] == 200
    who = {"entry": entry, "by": "technician", "reason": "read"}
    assert act(server, "verify", who)[0] == 200
    assert act(server, "amend", {**who, "member": "text", "value": "strap is missing", "again": True})[0] == 200
    found = verify(server.folder, trusted_key=public_hex(installation_key(tmp_path / "signing.key")))
    assert (found.state, found.faults) == (RecordState.COMPLETE, ())


def test_sound_goes_with_the_attestation_where_the_record_was_begun_so(checked, tmp_path):
    folder = tmp_path / "record"
    rehearsed("light-output-check", folder, clips=True, retention=Retention.UNTIL_ATTESTED, understood=True)
    with served(folder, tmp_path / "signing.key") as server:
        server.folder = folder
        page = ask(server, "GET", f"/{server.token}/")[2]
        assert b"is deleted for good when you attest" in page
        assert act(server, "attest", {"by": "therapist"})[0] == 200
    assert list((folder / "clips").iterdir()) == []


def test_a_verified_note_is_unverified_again_when_its_text_is_amended(broken_off_note):
    server, entry = broken_off_note
    who = {"entry": entry, "by": "technician", "reason": "read", "again": True}
    assert act(server, "verify", who)[0] == 200
    assert verify(server.folder).record.notes[0].verified is True
    assert act(server, "amend", {**who, "member": "text", "value": "strap is missing"})[0] == 200
    (note,) = verify(server.folder).record.notes
    assert (note.text, note.verified) == ("strap is missing", False)
    assert (note.recorded.fact.text, note.recorded.fact.verified) == ("cable tie is missing", False)


@pytest.fixture
def broken_off_note(tmp_path):
    from report_visits import ended_early

    ended_early(tmp_path / "record", understood=True)
    with served(tmp_path / "record", tmp_path / "signing.key") as server:
        server.folder = tmp_path / "record"
        yield server, verify(server.folder).record.notes[0].recorded.seq


def test_a_record_with_open_items_is_attested_only_with_a_reason_for_them(broken_off_note):
    server, _ = broken_off_note
    status, answer = act(server, "attest", {"by": "technician"})
    assert status == 400
    assert "open items" in answer["refused"]
    assert b"Why it stays open" in ask(server, "GET", f"/{server.token}/")[2]
    status, _ = act(server, "attest", {"by": "technician", "because": "patient was called away"})
    assert status == 200
    attested = verify(server.folder).record.attestation
    assert (attested.because, bool(attested.open_items)) == ("patient was called away", True)
    assert b"patient was called away" in ask(server, "GET", f"/{server.token}/")[2]


@contextlib.contextmanager
def window(server):
    """The connection that an open window holds."""
    with socket.create_connection(server.server_address[:2], timeout=10) as held:
        held.sendall(f"GET /{server.token}/window HTTP/1.1\r\nHost: {server.host}\r\n\r\n".encode())
        assert b" 200 " in held.recv(64)
        yield


def until(server, *, gone):
    """Wait for the server to see it; what waits is a thread of its own."""
    for _ in range(1000):
        if server.window_gone is gone:
            return
        server.thread.join(0.01)
    raise AssertionError(f"window_gone is not {gone}")


def test_it_ends_when_the_window_has_closed_and_not_when_it_is_loaded_anew(review):
    with window(review):
        pass
    until(review, gone=True)
    review.clock.sleep_until(2.0)
    assert not review.over
    ask(review, "GET", f"/{review.token}/")  # loaded anew, and a moment later it is there again
    review.clock.sleep_until(4.0)
    with window(review), window(review):
        until(review, gone=False)
        review.clock.sleep_until(30.0)
        assert not review.over
    until(review, gone=True)
    review.clock.sleep_until(40.0)
    assert review.over
    review.thread.join(10)
    assert not review.thread.is_alive()


def test_of_two_windows_one_may_close(review):
    with window(review):
        with window(review):
            pass
        review.thread.join(0.2)
        review.clock.sleep_until(10.0)
        assert not review.window_gone
        assert not review.over


def test_a_sign_of_life_that_comes_late_brings_no_closed_window_back(review):
    # Requests are served side by side: what a window sent before it was closed may be looked at after that.
    with window(review):
        pass
    until(review, gone=True)
    assert act(review, "alive", {})[0] == 200
    review.clock.sleep_until(10.0)
    assert review.over


def test_it_ends_after_long_silence_but_not_while_the_window_shows_life(checked, tmp_path):
    with served(copied(checked, tmp_path / "record"), tmp_path / "key", idle_s=120) as server:
        for at_s in (100.0, 200.0, 300.0):
            server.clock.sleep_until(at_s)
            assert not server.over
            assert act(server, "alive", {})[0] == 200
        server.clock.sleep_until(421.0)
        assert server.over


def test_refused_requests_are_no_sign_of_life(checked, tmp_path):
    with served(copied(checked, tmp_path / "record"), tmp_path / "key", idle_s=120) as server:
        server.clock.sleep_until(100.0)
        assert not server.over
        ask(server, "GET", "/wrong/")
        act(server, "alive", {}, Origin="https://evil.invalid")
        server.clock.sleep_until(121.0)
        assert server.over


@pytest.mark.parametrize(("make", "words"), [(False, "holds no record"), (True, "cannot be shown")])
def test_what_is_no_record_is_not_served(capsys, tmp_path, make, words):
    folder = tmp_path / "r"
    folder.mkdir()
    if make:
        (folder / "record.jsonl").write_text("{}\n")
    with pytest.raises(SystemExit) as left:
        main(["review", str(folder), "--no-browser"])
    assert left.value.code == 8
    err = capsys.readouterr().err
    assert words in err
    assert len(err.splitlines()) == 1


def test_a_port_in_use_is_named(capsys, standing, checked):
    port = str(standing.server_address[1])
    with pytest.raises(SystemExit) as left:
        main(["review", str(checked), "--no-browser", "--port", port])
    assert left.value.code == 2
    assert f"cannot listen on port {port}" in capsys.readouterr().err


def test_clients_that_hang_up_are_no_news(review, capfd):
    reset = struct.pack("ii", 1, 0)  # SO_LINGER with no time: close sends RST (RFC 9293 3.6)
    whole = f"GET /{review.token}/ HTTP/1.0\r\nHost: {review.host}\r\n\r\n".encode()
    for request in (b"", b"GET /", whole, whole[:-2]):
        for _ in range(3):
            raw = socket.create_connection(review.server_address[:2], timeout=10)
            raw.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, reset)
            raw.sendall(request)
            raw.close()
    assert ask(review, "GET", f"/{review.token}/")[0] == 200
    for error in (ConnectionResetError(), BrokenPipeError(), TimeoutError()):
        try:
            raise error
        except OSError:
            review.handle_error(None, None)
    assert capfd.readouterr().err == ""


def test_a_record_that_is_gone_is_told_to_the_window(review):
    shutil.rmtree(review.folder)
    status, _, body = ask(review, "GET", f"/{review.token}/")
    assert (status, b"holds no record" in body) == (409, True)
