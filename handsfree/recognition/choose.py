"""Which recogniser to listen with. An engine's packages are imported only when it is chosen."""

import logging
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from importlib.util import find_spec
from typing import TYPE_CHECKING

from handsfree.developer_log import timed
from handsfree.errors import UsageError
from handsfree.recognition.endpoint_settings import EndpointSettings
from handsfree.recognition.endpointing import Endpointer
from handsfree.recognition.engine import Engine
from handsfree.recognition.models import find, is_installed, locate
from handsfree.recognition.port import Recognizer
from handsfree.recognition.routing import choice
from handsfree.recognition.utterance_recognizer import UtteranceRecognizer

if TYPE_CHECKING:
    from handsfree.recognition.third_opinion import ThirdOpinion

ENGINES = ("neural", "neural-base", "neural-tuned", "pocketsphinx", "vosk")
"""Names that `make_recognizer` knows, the default first: it hears each grammar with the weights measured to be better
for it; "neural-base" and "neural-tuned" force one of them."""
TUNED_MODEL = "neural-en-tuned"
THIRD_MODEL = "general-en"
"""Weights of another family, asked too where they are installed."""
_LOG = logging.getLogger(__name__)


def make_recognizer(engine: str | None = None, settings: EndpointSettings | None = None) -> Recognizer:
    """Load an engine and its speech detector. Takes up to a second.

    Args:
        engine: One of `ENGINES`; None takes the default. A worse engine is never put in its place silently.
        settings: When speech begins and ends.

    Raises:
        ModelError: Its weights or packages are not installed; says what installs them.
        UsageError: There is no such engine.
    """
    with timed(_LOG, f"recogniser_loaded engine={engine or ENGINES[0]}"):
        return UtteranceRecognizer(make_engine(engine or ENGINES[0]), Endpointer(settings))


def begin_loading(engine: str | None = None, settings: EndpointSettings | None = None) -> Callable[[], Recognizer]:
    """Look whether an engine is there, and load it while the caller goes on. See `make_recognizer`.

    Returns:
        Waits for the recogniser and gives it; what cannot be seen without loading (damaged weights) is raised there.

    Raises:
        ModelError: Its weights or packages are not installed; says what installs them.
        UsageError: There is no such engine.
    """
    name = engine or ENGINES[0]
    if name not in ENGINES:
        raise UsageError(f"no recogniser is named {name} (known: {', '.join(ENGINES)})")
    if not name.startswith("neural"):
        ready = make_recognizer(name, settings)
        return lambda: ready
    # numpy and the runtime come with the speech packages: only who listens needs them.
    from handsfree.recognition.neural_network import runtime

    runtime()
    if name != "neural-tuned":
        locate()
    if name != "neural-base":
        locate(TUNED_MODEL)
    pool = ThreadPoolExecutor(1, "loads-recogniser")
    loading = pool.submit(make_recognizer, name, settings)
    pool.shutdown(wait=False)
    return loading.result


def make_engine(name: str) -> Engine:
    """Load an engine without a speech detector.

    Raises:
        ModelError: Its weights or packages are not installed; says what installs them.
        UsageError: There is no such engine.
    """
    match name:
        case "neural" | "neural-base" | "neural-tuned":
            return _neural_engine(name)
        case "pocketsphinx":
            from handsfree.recognition.pocketsphinx_engine import PocketsphinxEngine

            return PocketsphinxEngine()
        case "vosk":
            from handsfree.recognition.vosk_engine import VoskEngine

            return VoskEngine()
        case _:
            raise UsageError(f"no recogniser is named {name} (known: {', '.join(ENGINES)})")


def _neural_engine(name: str) -> Engine:
    from handsfree.recognition.neural_decoder import NeuralDecoder
    from handsfree.recognition.neural_engine import BASE, TUNED, NeuralEngine

    if name != "neural":
        return NeuralEngine(
            NeuralDecoder(locate(), BASE) if name == "neural-base" else NeuralDecoder(locate(TUNED_MODEL), TUNED)
        )
    with ThreadPoolExecutor(1) as beside:
        loading = beside.submit(lambda: NeuralDecoder(locate(TUNED_MODEL), TUNED))
        base = NeuralDecoder(locate(), BASE)
        return NeuralEngine(base, loading.result(), choice(), third_opinion())


def third_opinion() -> "ThirdOpinion | None":
    """The third weights, or None where they, or what runs them, are not installed.

    Raises:
        ModelError: They are there and cannot be loaded.
    """
    if not is_installed(THIRD_MODEL) or find_spec("ctranslate2") is None:
        return None
    from handsfree.recognition.third_opinion import ThirdOpinion

    return ThirdOpinion(locate(THIRD_MODEL))


def hearing() -> dict[str, list[str]]:
    """What each model of the default engine hears, by its identifier; "notes" is dictated text.

    Raises:
        ModelError: The list of choices is damaged.
    """
    found: dict[str, list[str]] = {find().id: ["notes"], TUNED_MODEL: [], THIRD_MODEL: []}
    for kind, name in choice().items():
        if name != "base":
            found[TUNED_MODEL].append(kind)
        if name != "tuned":
            found[find().id].append(kind)
        if name == "three":
            found[THIRD_MODEL].append(kind)
    return {model: kinds for model, kinds in found.items() if kinds}
