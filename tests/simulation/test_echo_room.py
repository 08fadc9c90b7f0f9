"""The simulated room: an echo comes as late and as loud as it was put in. Expected: the figures put in, by hand."""

from datetime import UTC, datetime

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("soxr")

from handsfree.clock import ManualClock  # noqa: E402
from handsfree.model.audio import Speech  # noqa: E402
from handsfree.model.effects import Priority  # noqa: E402
from handsfree.simulation.echo_room import EchoPath, EchoRoom  # noqa: E402

RATE_HZ = 16_000
CLICK_AT = 800


def heard(path, seconds=1.0, *, person=None):
    room = EchoRoom(ManualClock(datetime(2026, 11, 25, tzinfo=UTC)), path, noise_dbfs=-120.0)
    click = np.zeros(RATE_HZ // 10, "<i2")
    click[CLICK_AT] = 16_384
    room.play(Speech(click.tobytes(), RATE_HZ), Priority.PROMPT)
    if person is not None:
        room.speak(person)
    return np.concatenate([np.frombuffer(room.next_block().pcm, "<i2") for _ in range(round(seconds / 0.02))]), room


def test_an_echo_comes_late_and_softer():
    samples, _ = heard(EchoPath(gain_db=-20.0, delay_s=0.2, tail_s=0.0))
    assert int(np.argmax(np.abs(samples))) == CLICK_AT + round(0.2 * RATE_HZ)
    assert samples.max() == pytest.approx(1638, abs=2)


def test_a_room_adds_a_tail():
    samples, _ = heard(EchoPath(gain_db=0.0, delay_s=0.1, tail_s=0.3))
    first = int(np.argmax(np.abs(samples)))
    tail = samples[first + 1 : first + round(0.3 * RATE_HZ)].astype(float)
    # Direct sound 6 dB over the tail, `reverberate`.
    assert 10 * np.log10(float(samples[first]) ** 2 / (tail**2).sum()) == pytest.approx(6, abs=0.5)


def test_a_clock_that_runs_fast_shortens_the_delay():
    late, _ = heard(EchoPath(gain_db=0.0, delay_s=0.2, tail_s=0.0))
    early, _ = heard(EchoPath(gain_db=0.0, delay_s=0.2, tail_s=0.0, drift_ppm=2000.0))
    # The click is heard after 0.25 s, in which 2000 ppm are 8 samples.
    assert int(np.argmax(late)) - int(np.argmax(early)) == pytest.approx(8, abs=1)


def test_people_are_heard_beside_the_echo():
    person = np.zeros(RATE_HZ)
    person[320] = 0.25
    samples, _ = heard(EchoPath(gain_db=-20.0, delay_s=0.2, tail_s=0.0), person=person)
    assert samples[320] == 8192


def test_how_much_was_played_of_what_is_said_last():
    room = EchoRoom(ManualClock(datetime(2026, 11, 25, tzinfo=UTC)), EchoPath())
    assert room.share_played == 1.0
    for _ in range(2):
        room.play(Speech(np.full(RATE_HZ, 100, "<i2").tobytes(), RATE_HZ), Priority.PROMPT)
    for _ in range(50):
        room.next_block()
    assert room.share_played == pytest.approx(0.0, abs=0.02), "what comes before a question is heard out"
    for _ in range(25):
        room.next_block()
    assert room.share_played == pytest.approx(0.5, abs=0.02)
    assert room.spoken_s == pytest.approx(1.5, abs=0.05)
