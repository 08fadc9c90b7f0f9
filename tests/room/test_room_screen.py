"""The screen for the room without a browser: what it tells, to whom, and that nobody who reads it delays a visit.

Rules of who may ask: Host against DNS rebinding (OWASP Cross-Site Request Forgery Prevention), no-store (RFC 9111
5.2.2.5), server-sent events as the HTML Standard has them (9.2). The rest: common practice, no source.
"""

import http.client
import json
import socket
import ssl
import threading
from datetime import UTC, datetime, timedelta

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from handsfree.application.screen_beside import WantedScreen, room_screen
from handsfree.cli import main
from handsfree.clock import ManualClock
from handsfree.definition.loader import load_bundle
from handsfree.display.room.room_page import RoomPage
from handsfree.display.room.room_screen import RoomScreen
from handsfree.display.room.room_server import MOST_BROWSERS, RoomServer, ScreenPlace, served
from handsfree.errors import UsageError
from handsfree.model.effects import Priority
from handsfree.room_settings import Screen
from handsfree.session.session import Session
from handsfree.session.snapshot import NamedValue, PhaseItem, Snapshot, ZoneView

START = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def zone(name, lit_s, target_s=6.0, *, lit=False, strap=False):
    return ZoneView(name, f"{name} part", lit_s, target_s, strap, lit, 0.3, 7.5)


def snapshot(**changes):
    values = {
        "step_id": "expose_open",
        "title": "A fitting",
        "phase": "during",
        "mode": "lit",
        "prompt": "",
        "hint": "say light off",
        "step": "light",
        "done": 7,
        "total": 41,
    }
    return Snapshot(**{**values, **changes})


@pytest.fixture
def clock():
    return ManualClock(START)


@pytest.fixture
def screen(clock):
    return RoomScreen(clock, "visit-1")


def state_of(screen, seen=-1):
    return json.loads(screen.wait(seen)[1])


def test_a_lit_zone_is_counted_on_between_events_and_over_time_is_said_in_words(screen, clock):
    screen.show(0.0, snapshot(is_lit=True, zones=(zone("front", 1.0, lit=True), zone("strap", 0.0, strap=True))))
    clock.sleep_until(3.0)
    state = state_of(screen)
    assert state["lit"]["seconds"] == "4.0"
    assert [one["word"] for one in state["zones"]] == ["lit", "strap"]
    assert state["zones"][0]["share"] == pytest.approx(4 / 6, abs=1e-3)
    clock.sleep_until(6.5)
    over = state_of(screen)
    assert over["lit"]["over"] == "1.5"
    assert over["zones"][0]["word"] == "over"
    assert over["zones"][0]["seconds"] == "7.5/6 s"


def test_once_lit_nobody_is_told_to_put_the_light_on_but_what_is_said_then_stays(screen):
    screen.tool(0.0, "When ready, say light on.", Priority.PROMPT)
    screen.show(0.0, snapshot(mode="asking", zones=(zone("front", 0.0),)))
    screen.heard(1.0, "light on", "accepted", 0.99)
    screen.show(1.0, snapshot(is_lit=True, zones=(zone("front", 0.0, lit=True),)))
    assert state_of(screen)["prompt"] == ""
    screen.tool(3.0, "Half.", Priority.PROMPT)
    screen.show(3.0, snapshot(is_lit=True, zones=(zone("front", 2.0, lit=True),)))
    assert state_of(screen)["prompt"] == "Half."


def test_a_warning_that_comes_with_the_light_is_kept(screen):
    screen.show(0.0, snapshot(mode="asking", zones=(zone("front", 0.0),)))
    screen.heard(1.0, "light on", "accepted", 0.99)
    screen.tool(1.0, "Light off. Answer first.", Priority.ATTENTION)
    screen.show(1.0, snapshot(is_lit=True, zones=(zone("front", 0.0, lit=True),)))
    assert state_of(screen)["prompt"] == "Light off. Answer first."


def test_dark_short_reached_and_over_are_words_of_their_own(screen):
    zones = (zone("a", 0.0), zone("b", 3.0), zone("c", 5.8), zone("d", 8.0))
    screen.show(0.0, snapshot(mode="asking", zones=zones))
    state = state_of(screen)
    assert [one["word"] for one in state["zones"]] == ["", "short", "reached", "over"]
    assert [one["kind"] for one in state["zones"]] == ["dark", "short", "reached", "over"]


def test_what_is_open_said_back_and_stands_is_told_and_what_is_left_out_is_counted(screen):
    items = (
        PhaseItem("consent", True),
        *(PhaseItem(f"check {n}", False, ("place",) if n == 0 else ()) for n in range(9)),
    )
    screen.show(0.0, snapshot(mode="reading_back", items=items, said_back=(NamedValue("pain rest", "3"),)))
    state = state_of(screen)
    assert state["items"][0] == "check 0: place"
    assert len(state["items"]) + state["items_more"] == 9
    assert state["items_done"] == "1 of 10"
    assert (state["values_kind"], state["values"]) == ("said back", [["pain rest", "3"]])
    screen.show(0.0, snapshot(mode="asking", standing=(NamedValue("skin hand", "intact"),)))
    assert state_of(screen)["values_kind"] == "stands unless you object"


def test_what_was_heard_is_told_also_where_it_was_not_taken(screen):
    screen.heard(1.0, "banana bread", "not taken", 0.1)
    assert (state_of(screen)["heard"], state_of(screen)["heard_kind"]) == ("banana bread", "refused")
    screen.heard(1.0, "affirmative", "accepted", 0.99)
    assert state_of(screen)["heard_kind"] == "taken"


def test_light_that_may_be_on_is_told_where_no_run_counts(screen):
    screen.show(0.0, snapshot(mode="held", hold="hot", may_be_lit=True, zones=(zone("front", 3.0),)))
    assert state_of(screen)["light"] == "maybe"
    assert state_of(screen)["hold"] == "hot"


def test_a_session_that_gives_no_sign_of_life_is_told_so_and_a_typed_one_gives_none(screen, clock):
    screen.show(0.0, snapshot())
    clock.sleep_until(60.0)
    assert state_of(screen)["silent_s"] == 0.0
    screen.levels(60.0, -40.0, -60.0, deaf=False)
    clock.sleep_until(66.0)
    assert state_of(screen)["silent_s"] == 6.0
    screen.show(66.0, snapshot(mode="closed"))
    assert state_of(screen)["silent_s"] == 0.0, "its last words are heard out"
    screen.end()
    assert state_of(screen)["ended"]


def test_the_snapshot_of_a_real_session_names_steps_in_words():
    first = Session(load_bundle("neurovascular-check")).snapshot
    assert first.step == "session kind"
    assert [item.words for item in first.items][:1] == ["session kind"]


# Over the network.


@pytest.fixture
def server(screen):
    device = load_bundle("ulnar-splint-fitting").device
    with served(RoomServer(screen, RoomPage("A <fitting>", device, "visit-1"), ScreenPlace())) as server:
        yield server


def ask(server, method, path, **headers):
    connection = http.client.HTTPConnection(*server.server_address[:2], timeout=10)
    try:
        connection.request(method, path, headers={name.replace("_", "-"): value for name, value in headers.items()})
        answer = connection.getresponse()
        return answer.status, dict(answer.getheaders()), answer.read()
    finally:
        connection.close()


def listen(server):
    """A browser that listens: its lines."""
    connection = http.client.HTTPConnection(*server.server_address[:2], timeout=10)
    connection.request("GET", f"/{server.token}/events")
    return connection.getresponse()


def states(answer):
    while line := answer.readline():
        if line.startswith(b"data: "):
            yield json.loads(line.removeprefix(b"data: "))


def test_the_page_is_whole_and_may_fetch_nothing_but_its_own_events(server):
    status, headers, body = ask(server, "GET", f"/{server.token}/")
    assert status == 200
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "connect-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["Cache-Control"] == "no-store"
    assert b"A &lt;fitting&gt;" in body
    assert b"http:" not in body.replace(b"http://www.w3.org/2000/svg", b"")
    assert b"https:" not in body


@pytest.mark.parametrize("path", ["/", "/events", "/x/events", "/{token}", "/{token}x/"])
def test_who_has_not_the_address_gets_nothing(server, path):
    assert ask(server, "GET", path.format(token=server.token))[0] == 403


def test_a_name_that_was_rebound_gets_nothing(server):
    assert ask(server, "GET", f"/{server.token}/", Host=f"evil.example:{server.server_address[1]}")[0] == 403


def test_it_takes_no_command_whoever_sends_it(server):
    for place in ("", "events", "affirm"):
        status, _, body = ask(server, "POST", f"/{server.token}/{place}", Origin=server.origin)
        assert (status, json.loads(body)) == (405, {"refused": "this screen takes nothing"})
        assert ask(server, "POST", f"/{server.token}/{place}", Origin="https://evil.example")[0] == 403


def test_a_browser_hears_the_latest_state_and_the_end(server, screen):
    found = states(listen(server))
    next(found)
    screen.tool(1.0, "First.", Priority.PROMPT)
    screen.tool(1.0, "Second.", Priority.PROMPT)
    assert any(state["prompt"] == "Second." for state in found)
    screen.end()
    assert any(state["ended"] for state in found)
    assert list(found) == [] or all(state["ended"] for state in found)


def test_a_browser_that_hangs_holds_up_nobody_and_keeps_no_queue(server, screen):
    silent = socket.create_connection(server.server_address[:2])
    silent.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    silent.sendall(f"GET /{server.token}/events HTTP/1.1\r\nHost: {server.host}\r\n\r\n".encode())
    found = states(listen(server))
    next(found)
    before = threading.active_count()
    # Far more than any buffer between the two holds: who waited for the silent one would never come to the end.
    for number in range(3000):
        screen.tool(1.0, f"{number} " + 1000 * "x", Priority.PROMPT)
    assert next(state for state in found if state["prompt"].startswith("2999 "))
    assert threading.active_count() <= before
    silent.close()


def test_no_more_browsers_than_there_are_places(server):
    held = [listen(server) for _ in range(MOST_BROWSERS)]
    assert all(next(states(one)) for one in held)
    refused = listen(server)
    assert refused.status == 503
    assert str(MOST_BROWSERS) in json.loads(refused.read())["refused"]


# Where it is served.


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    """Certificate and key of a site: self-signed, for room.example."""
    place = tmp_path_factory.mktemp("site")
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "room.example")])
    begun = datetime.now(UTC) - timedelta(days=1)  # noqa: TID251 - a certificate is of today
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(7)
        .not_valid_before(begun)
        .not_valid_after(begun + timedelta(days=9))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("room.example")]), critical=False)
        .sign(key, hashes.SHA256())
    )  # fmt: skip
    (place / "room.pem").write_bytes(made.public_bytes(serialization.Encoding.PEM))
    (place / "room.key").write_bytes(
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    )
    token = place / "token"
    token.write_text("s" * 40 + "\n")
    token.chmod(0o600)
    return place


def test_another_device_gets_it_by_the_name_and_secret_of_the_site_encrypted_alone(screen, site):
    place = ScreenPlace(name="room.example", certificate=site / "room.pem", key=site / "room.key", token="s" * 40)
    with served(RoomServer(screen, RoomPage("A fitting", None, "visit-1"), place)) as server:
        port = server.server_address[1]
        assert server.address == f"https://room.example:{port}/{'s' * 40}/"
        trusting = ssl.create_default_context(cafile=site / "room.pem")
        with (
            socket.create_connection(("127.0.0.1", port), timeout=10) as plain,
            trusting.wrap_socket(plain, server_hostname="room.example") as connection,
        ):
            connection.sendall(f"GET /{server.token}/ HTTP/1.1\r\nHost: room.example:{port}\r\n\r\n".encode())
            assert connection.recv(15) == b"HTTP/1.0 200 OK"
        with socket.create_connection(("127.0.0.1", port), timeout=10) as plain:
            plain.sendall(f"GET /{server.token}/ HTTP/1.1\r\nHost: room.example:{port}\r\n\r\n".encode())
            assert b"200" not in plain.recv(100)


@pytest.mark.parametrize(
    ("settings", "why"),
    [
        ({"certificate": "{site}/room.pem", "key": "{site}/token"}, "no certificate and key that belong together"),
        ({"certificate": "{site}/nowhere", "key": "{site}/room.key"}, "cannot be read"),
        ({"token_file": "{site}/nowhere"}, "cannot be read"),
        ({"token_file": "{site}/room.pem"}, "others may read"),
        ({"token_file": "{site}/short"}, "holds no secret of 32 to 200"),
    ],
)
def test_what_it_cannot_be_served_with_is_one_line_before_anything_begins(site, settings, why):
    (site / "short").write_text("abc")
    (site / "short").chmod(0o600)
    (site / "room.pem").chmod(0o644)
    given = {name: value.format(site=site) for name, value in settings.items()}
    with (
        pytest.raises(UsageError) as refused,
        room_screen(
            WantedScreen(Screen(**given), lambda address: pytest.fail(address)), load_bundle("neurovascular-check")
        ),
    ):
        pytest.fail("it was served")
    assert why in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_taken_port_is_one_line(server, screen):
    with pytest.raises(UsageError, match="cannot listen at"):
        RoomServer(screen, RoomPage("A fitting", None, "x"), ScreenPlace(port=server.server_address[1]))


def test_run_refuses_an_address_of_the_site_without_its_certificate(tmp_path, capsys):
    config = tmp_path / "config.toml"
    config.write_text('[screen]\naddress = "10.0.0.12"\n')
    asked = ["run", "neurovascular-check", "--typed", "--record", str(tmp_path / "r"), "--screen"]
    with pytest.raises(SystemExit) as ended:
        main([*asked, "--config", str(config)])
    assert ended.value.code == 2
    assert "give certificate and key of the site" in capsys.readouterr().err
    assert not (tmp_path / "r").exists()


@pytest.mark.parametrize(
    ("asked", "why"),
    [
        (("run", "neurovascular-check", "--wav", "visit.wav"), "a sound file is heard faster than that"),
        (
            ("practice", "ulnar-splint-fitting", "--scenario", "hot-zone", "--learner", "good", "--typed"),
            "plays faster than anybody looks",
        ),
    ],
)
def test_what_nobody_could_watch_has_no_screen(tmp_path, capsys, asked, why):
    with pytest.raises(SystemExit) as ended:
        main([*asked, "--record", str(tmp_path / "r"), "--screen"])
    assert ended.value.code == 2
    assert why in capsys.readouterr().err


def test_run_prints_the_address_and_what_is_typed_is_shown(tmp_path, capsys, monkeypatch):
    asked = []

    def lines():
        address = capsys.readouterr().err.split()[1]
        host, port = address.split("/")[2].split(":")
        connection = http.client.HTTPConnection(host, int(port), timeout=10)
        connection.request("GET", f"/{address.split('/')[3]}/events")
        found = states(connection.getresponse())
        yield "practice session\n"
        asked.append(next(state for state in found if state["heard"]))

    monkeypatch.setattr("sys.stdin", lines())
    record = str(tmp_path / "r")
    main(["run", "neurovascular-check", "--typed", "--record", record, "--screen", "--no-browser"])
    assert asked[0]["heard"] == "practice session"
