"""A small self-test of recognition: three sentences of the tool's own voice, and how long everything took."""

from dataclasses import replace

from handsfree.application.sound_check import PHRASES, READINGS, WANTED, judge
from handsfree.audio.resample import Blocks, samples_of
from handsfree.clock import Clock
from handsfree.diagnostics.faults import fault_of
from handsfree.errors import VoiceError
from handsfree.model.audio import AudioBlock, Speech
from handsfree.model.effects import Json
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.choose import ENGINES, make_recognizer
from handsfree.recognition.port import Recognizer
from handsfree.understanding.listening_graph import graph_for
from handsfree.voice.choose import choose_synthesizer

SENTENCES = (PHRASES[0], PHRASES[4], READINGS[0])
PAUSE_S = 1.0


def recognition(engine: str | None, voice: str | None, clock: Clock) -> dict[str, Json]:
    """Load a recogniser, let the tool's voice speak to it, and time both.

    Args:
        engine: Name of the recogniser, or None for the usual one.
        voice: Name of the voice, or None for the best there is.
        clock: Times it.

    Raises:
        ModelError: Weights or packages of the recogniser are missing.
    """
    began_s = clock.monotonic_s()
    recognizer = make_recognizer(engine)
    recognizer.listen_for(graph_for(WANTED))
    told: dict[str, Json] = {"engine": engine or ENGINES[0], "load_ms": _ms(clock, began_s)}
    began_s = clock.monotonic_s()
    try:
        synthesizer = choose_synthesizer(voice)
        spoken = [synthesizer.render(_as_said(sentence)) for sentence in SENTENCES]
    except VoiceError as error:
        return told | {"voice": {"fault": fault_of(error)}}
    told["voice"] = {"name": synthesizer.name, "render_ms": _ms(clock, began_s)}
    results: list[Json] = []
    at_s = 0.0
    for sentence, speech in zip(SENTENCES, spoken, strict=True):
        blocks = _blocks(speech, at_s)
        began_s = clock.monotonic_s()
        heard = _heard(recognizer, blocks)
        took_ms = _ms(clock, began_s)
        results.append(
            {
                "sentence": sentence,
                "result": judge(sentence, heard).result.value,
                "sound_s": round(blocks[-1].end_s - at_s, 3),
                "took_ms": took_ms,
            }
        )
        at_s = blocks[-1].end_s
    return told | {"sentences": results}


def _as_said(sentence: str) -> str:
    """Digits are said one by one."""
    return ", ".join(sentence.split()) + "." if sentence in READINGS else sentence


def _blocks(speech: Speech, start_s: float) -> list[AudioBlock]:
    """What a microphone would take: the speech with a pause before and after it."""
    rate_hz = speech.sample_rate_hz
    pause = bytes(2 * round(PAUSE_S * rate_hz))
    cut = Blocks(rate_hz).feed(samples_of(pause + speech.pcm + pause), last=True)
    return [replace(block, start_s=start_s + block.start_s) for block in cut]


def _heard(recognizer: Recognizer, blocks: list[AudioBlock]) -> Hypothesis | None:
    """The first utterance, if there is one; the pause after it ends any."""
    heard = [hypothesis for block in blocks for hypothesis in recognizer.accept(block)]
    heard += recognizer.flush()
    return heard[0] if heard else None


def _ms(clock: Clock, began_s: float) -> float:
    return round((clock.monotonic_s() - began_s) * 1000, 1)
