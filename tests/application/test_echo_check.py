"""Which way is used, and why: the test sound in rooms whose delay, echo and faults are put in by hand.

Rules of our own, no source; the figures are those of the rooms.
"""

import sys
from datetime import UTC, datetime

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("soxr")
pytest.importorskip("pywebrtc_audio", reason="pywebrtc-audio is not installed: pip install 'handsfree[speech]'")

from handsfree.application import echo_check  # noqa: E402
from handsfree.application.echo_check import (  # noqa: E402
    DuplexReason,
    DuplexWay,
    EchoChecked,
    check_devices,
    check_echo,
    keep,
    way_found,
)
from handsfree.clock import ManualClock  # noqa: E402
from handsfree.errors import AudioDeviceError  # noqa: E402
from handsfree.simulation.echo_room import EchoPath, EchoRoom  # noqa: E402


def room(path=None):
    return EchoRoom(ManualClock(datetime(2026, 11, 25, tzinfo=UTC)), path or EchoPath())


def test_an_echo_that_can_be_taken_out_is_measured():
    found = check_echo(room(EchoPath(gain_db=-6.0, delay_s=0.15)))
    assert (found.way, found.reason) == (DuplexWay.FULL, DuplexReason.TAKEN_OUT)
    assert found.delay_ms == pytest.approx(150, abs=3)
    assert found.loss_db > 25
    assert found.echo_db == pytest.approx(70 - 18.4 - 6, abs=4), "played at -18.4 dB, noise at -70"
    assert found.line.startswith("speech over the tool's voice is understood: the tool's own voice can be taken out (1")


def test_a_headset_has_no_echo_and_needs_none_taken_out():
    found = check_echo(room(EchoPath(gain_db=-90.0)))
    assert (found.way, found.reason, found.delay_ms) == (DuplexWay.FULL, DuplexReason.NO_ECHO, None)


def test_a_microphone_that_clips_is_told():
    found = check_echo(room(EchoPath(gain_db=20.0)))
    assert (found.way, found.reason) == (DuplexWay.HALF, DuplexReason.CLIPPED)
    assert "turn one of them down" in found.line


def test_a_device_that_gives_no_reference_is_told():
    there = room()
    there.played = lambda start_s, count: np.zeros(count, np.int16)
    found = check_echo(there)
    assert (found.way, found.reason) == (DuplexWay.HALF, DuplexReason.NO_REFERENCE)


def test_a_delay_beyond_what_can_be_found_is_told():
    found = check_echo(room(EchoPath(delay_s=0.9)))
    assert (found.way, found.reason) == (DuplexWay.HALF, DuplexReason.NO_DELAY)


def test_a_delay_that_changes_meanwhile_is_told():
    there = room(EchoPath(delay_s=0.1))
    begun = there.next_block

    def moving():
        if there.now_s > 4.0:
            there.path = EchoPath(delay_s=0.2)
        return begun()

    there.next_block = moving
    found = check_echo(there)
    assert (found.way, found.reason) == (DuplexWay.HALF, DuplexReason.UNSTEADY)


def test_a_loudspeaker_that_is_bent_out_of_shape_is_told():
    found = check_echo(room(EchoPath(gain_db=-14.0, tail_s=0.4, drive=30.0)))
    assert (found.way, found.reason) == (DuplexWay.HALF, DuplexReason.TOO_LITTLE)


def test_without_the_canceller_only_stop_words_act(monkeypatch):
    monkeypatch.setitem(sys.modules, "pywebrtc_audio", None)
    found = check_echo(room())
    assert (found.way, found.reason) == (DuplexWay.HALF, DuplexReason.NOT_INSTALLED)
    assert "pip install 'handsfree[speech]'" in found.line


def test_what_was_found_is_kept_for_these_devices_alone(tmp_path):
    file = tmp_path / "data" / "echo-checks.json"
    assert way_found(("mic", "desk"), file) is None
    keep(EchoChecked(DuplexWay.FULL, DuplexReason.NO_ECHO), ("mic", "desk"), file)
    keep(EchoChecked(DuplexWay.HALF, DuplexReason.CLIPPED), ("mic", "wall"), file)
    assert way_found(("mic", "desk"), file) is DuplexWay.FULL
    assert way_found(("mic", "wall"), file) is DuplexWay.HALF
    assert way_found(("other", "desk"), file) is None
    keep(EchoChecked(DuplexWay.HALF, DuplexReason.UNSTEADY), ("mic", "desk"), file)
    assert way_found(("mic", "desk"), file) is DuplexWay.HALF


@pytest.mark.parametrize("text", ["", "{", "[1]", '{"mic | desk": 3}', '{"mic | desk": {"way": 3}}'])
def test_a_damaged_file_never_means_full_duplex_and_is_made_good(tmp_path, text):
    file = tmp_path / "echo-checks.json"
    file.write_text(text)
    assert way_found(("mic", "desk"), file) is not DuplexWay.FULL
    keep(EchoChecked(DuplexWay.FULL, DuplexReason.NO_ECHO), ("mic", "desk"), file)
    assert way_found(("mic", "desk"), file) is DuplexWay.FULL


def test_where_nothing_can_be_kept_the_check_goes_on(tmp_path):
    (tmp_path / "file").write_text("")
    keep(EchoChecked(DuplexWay.FULL, DuplexReason.NO_ECHO), ("mic", "desk"), tmp_path / "file" / "below")


def test_a_machine_without_a_loudspeaker_is_told(monkeypatch, tmp_path):
    def name_of(kind, name):
        if kind == "output":
            raise AudioDeviceError("this machine has no loudspeaker (plug one in and start again)")
        return "mic"

    monkeypatch.setattr(echo_check, "name_of", name_of)
    monkeypatch.setattr(echo_check, "echo_checks", lambda: tmp_path / "kept.json")
    found = check_devices(ManualClock(datetime(2026, 11, 25, tzinfo=UTC)), None, None, lambda _: None)
    assert (found.way, found.reason) == (DuplexWay.HALF, DuplexReason.NO_LOUDSPEAKER)
