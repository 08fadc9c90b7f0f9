"""Voices of scripted people, and rooms: levels and spectra against their definitions."""

import shutil
from dataclasses import dataclass

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("soxr")

from handsfree.errors import VoiceError  # noqa: E402
from handsfree.model.audio import SAMPLE_RATE_HZ  # noqa: E402
from handsfree.simulation import mixing, voices  # noqa: E402

WORDS = "wrist, twenty one point five centimeters"


@dataclass(frozen=True)
class Person:
    engine: str
    voice: str = ""
    rate: float = 1.0


ALL = [
    *(("espeak-ng", voice) for voice in voices.ESPEAK_VOICES),
    *(("flite", voice) for voice in voices.FLITE_VOICES),
    *(("festival", voice) for voice in voices.FESTIVAL_VOICES),
    ("neural", ""),
]


def person(engine: str, voice: str = "", rate: float = 1.0) -> Person:
    if (engine, voice) not in voices.available_voices():
        pytest.skip(f"{engine} {voice} is not installed")
    return Person(engine, voice, rate)


@pytest.mark.parametrize(("engine", "voice"), ALL)
def test_each_voice_speaks_the_same_way_each_time(engine: str, voice: str) -> None:
    who = person(engine, voice)
    speech = voices.render(who, WORDS)
    assert 1.0 < speech.duration_s < 6.0
    assert mixing.active_level(mixing.signal_of(speech)) > 0.01
    assert voices.render(who, WORDS) == speech


@pytest.mark.parametrize(
    ("engine", "voice"), [("espeak-ng", "en-us"), ("flite", "slt"), ("festival", "kal"), ("neural", "")]
)
def test_rate_shortens(engine: str, voice: str) -> None:
    slow = voices.render(person(engine, voice, 0.8), WORDS).duration_s
    fast = voices.render(person(engine, voice, 1.25), WORDS).duration_s
    assert slow / fast == pytest.approx(1.25 / 0.8, rel=0.25)


def test_voices_differ() -> None:
    rendered = [voices.render(person(engine, voice), WORDS).pcm for engine, voice in voices.available_voices()]
    assert len(set(rendered)) == len(rendered)


@pytest.mark.parametrize(
    ("engine", "package"), [("espeak-ng", "espeak-ng"), ("flite", "flite"), ("festival", "festvox")]
)
def test_a_missing_program_names_its_package(engine: str, package: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda program: None)
    with pytest.raises(VoiceError, match=f"apt-get install .*{package}"):
        voices.render(Person(engine), WORDS)


def test_unknown_voices_are_refused() -> None:
    with pytest.raises(VoiceError, match="no engine 'robot'"):
        voices.render(Person("robot"), WORDS)
    person("flite", "slt")
    with pytest.raises(VoiceError, match="flite has no voice 'nobody'"):
        voices.render(Person("flite", "nobody"), WORDS)
    person("espeak-ng", "en-us")
    with pytest.raises(VoiceError, match="espeak-ng"):
        voices.render(Person("espeak-ng", "xx-nowhere"), WORDS)


def test_text_that_looks_like_an_option_is_spoken() -> None:
    for engine, voice in (("espeak-ng", "en-us"), ("flite", "slt"), ("festival", "kal")):
        if (engine, voice) in voices.available_voices():
            assert voices.render(Person(engine, voice), "-v five (quit)").duration_s > 0.3


def tone_with_pause() -> np.ndarray:
    tone = 0.2 * np.sin(2 * np.pi * 300 * np.arange(SAMPLE_RATE_HZ) / SAMPLE_RATE_HZ)
    return np.concatenate([tone, np.zeros(3 * SAMPLE_RATE_HZ)])


def test_pauses_do_not_lower_the_speech_level() -> None:
    assert mixing.active_level(tone_with_pause()) == pytest.approx(0.2 / np.sqrt(2), rel=0.01)
    assert mixing.active_level(np.zeros(5_000)) == 0.0
    assert mixing.active_level(np.zeros(0)) == 0.0


@pytest.mark.parametrize("kind", ["white", "pink", "babble"])
@pytest.mark.parametrize("snr_db", [20.0, 5.0])
def test_noise_comes_at_the_stated_level(kind: mixing.Noise, snr_db: float) -> None:
    if kind == "babble" and not voices.available_voices():
        pytest.skip("no engine for babble")
    speech = tone_with_pause()
    added = mixing.add_noise(speech, kind, snr_db, seed=3) - speech
    level = float(np.sqrt(np.mean(added**2)))
    assert 20 * np.log10(0.2 / np.sqrt(2) / level) == pytest.approx(snr_db, abs=0.1)
    assert np.array_equal(mixing.add_noise(speech, kind, snr_db, seed=3) - speech, added)
    assert not np.array_equal(mixing.add_noise(speech, kind, snr_db, seed=4) - speech, added)


@pytest.mark.parametrize(("kind", "slope_db"), [("white", 0.0), ("pink", -3.01)])
def test_spectrum_falls_as_defined(kind: mixing.Noise, slope_db: float) -> None:
    """White noise has equal power a hertz, pink noise equal power an octave: -3.01 dB an octave a hertz."""
    made = mixing.noise(kind, 20 * SAMPLE_RATE_HZ, seed=1)
    power = np.abs(np.fft.rfft(made)) ** 2
    pitch = np.fft.rfftfreq(len(made), 1 / SAMPLE_RATE_HZ)
    octaves = [float(power[(pitch >= low) & (pitch < 2 * low)].mean()) for low in (125, 250, 500, 1000, 2000)]
    steps = 10 * np.diff(np.log10(octaves))
    assert float(steps.mean()) == pytest.approx(slope_db, abs=0.3)


def test_silence_gets_no_noise() -> None:
    assert not mixing.add_noise(np.zeros(1_000), "white", 10.0, seed=0).any()


def test_reverberation_falls_60_db_in_the_stated_time() -> None:
    """RT60 by its definition, from the backward integral of Schroeder (J Acoust Soc Am 1965;37:409), -5 to -25 dB."""
    click = np.zeros(1_600)
    click[0] = 1.0
    decay_s = 0.5
    tail = mixing.reverberate(click, decay_s, seed=2)[1:]
    left = 10 * np.log10(np.cumsum(tail[::-1] ** 2)[::-1] / np.sum(tail**2) + 1e-12)
    from_s, to_s = (int(np.argmax(left < level)) / SAMPLE_RATE_HZ for level in (-5, -25))
    assert (to_s - from_s) * 3 == pytest.approx(decay_s, rel=0.15)
    assert 10 * np.log10(1 / np.sum(tail**2)) == pytest.approx(6.0, abs=0.1)
    assert np.array_equal(mixing.reverberate(click, 0.0, seed=2), click)


def pause(samples: int) -> np.ndarray:
    return np.zeros(samples, dtype=np.int16)


def test_a_room_goes_on_between_words_and_repeats_itself_for_the_same_seed() -> None:
    one, other = mixing.SimulatedRoom("pink", 20.0, seed=5), mixing.SimulatedRoom("pink", 20.0, seed=5)
    long = one.add_to(pause(640))
    assert np.array_equal(long, np.concatenate([other.add_to(pause(320)), other.add_to(pause(320))]))
    assert long.any()
    assert not mixing.SimulatedRoom().add_to(pause(320)).any()


def test_a_room_brings_speech_and_noise_to_their_levels() -> None:
    speech = mixing.samples_of(tone_with_pause())
    quiet = mixing.SimulatedRoom(speech_level=0.1).add_to(speech) / 32768
    assert mixing.active_level(quiet) == pytest.approx(0.1, rel=0.01)
    noisy = mixing.SimulatedRoom("white", 12.0, seed=1, speech_level=0.1)
    behind = noisy.add_to(pause(mixing.SimulatedRoom.LOOP_S * SAMPLE_RATE_HZ)) / 32768
    assert 20 * np.log10(0.1 / np.sqrt(np.mean(behind**2))) == pytest.approx(12.0, abs=0.1)
    assert len(noisy.add_to(speech)) == len(speech)
