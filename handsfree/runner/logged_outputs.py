"""What a session hears and says, in the developer's log: evidence and times, no words."""

import logging
from typing import TYPE_CHECKING

from handsfree.clock import Clock
from handsfree.developer_log import private, timed
from handsfree.model.effects import Earcon, Priority
from handsfree.model.hypotheses import Hypothesis
from handsfree.session.snapshot import Snapshot

if TYPE_CHECKING:
    from handsfree.runner.session_runner import Outputs

_LOG = logging.getLogger(__name__)


class LoggedOutputs:
    """Outputs that are logged as they are carried out. See `Outputs`.

    Args:
        outputs: Carry them out.
        clock: Session time.
    """

    def __init__(self, outputs: "Outputs", clock: Clock) -> None:
        self._outputs = outputs
        self._clock = clock
        self._place: tuple[str, str] | None = None

    def say(self, text: str, priority: Priority, heard_out: int = 0) -> None:
        """See `Outputs.say`."""
        _LOG.info(
            "prompt_due at_s=%.3f priority=%d",
            self._clock.monotonic_s(),
            priority,
            extra=private(prompt=text),
        )
        with timed(_LOG, "prompt_given"):
            self._outputs.say(text, priority, heard_out)

    def earcon(self, earcon: Earcon) -> None:
        """See `Outputs.earcon`."""
        _LOG.debug("earcon_due at_s=%.3f earcon=%s", self._clock.monotonic_s(), earcon.name)
        self._outputs.earcon(earcon)

    def heard(self, hypothesis: Hypothesis | None, outcome: str, probability: float) -> None:
        """See `Outputs.heard`."""
        now = self._clock.monotonic_s()
        _LOG.info(
            "utterance_heard at_s=%.3f outcome=%s probability=%.4f%s",
            now,
            outcome.replace(" ", "_"),
            probability,
            evidence_of(hypothesis, now) if hypothesis is not None else "",
            extra=private(
                words=hypothesis.text,
                runner_up=" ".join(hypothesis.runner_up) if hypothesis.runner_up is not None else None,
                free_text=hypothesis.free_text,
            )
            if hypothesis is not None
            else None,
        )
        self._outputs.heard(hypothesis, outcome, probability)

    def show(self, snapshot: Snapshot) -> None:
        """See `Outputs.show`; a place is logged when it is reached, without the side, which is a reading."""
        step = snapshot.step_id.partition("@")[0]
        if self._place != (snapshot.step_id, snapshot.mode):
            self._place = (snapshot.step_id, snapshot.mode)
            _LOG.info(
                "place_reached at_s=%.3f step=%s mode=%s steps_done=%d/%d",
                self._clock.monotonic_s(),
                step,
                snapshot.mode,
                snapshot.done,
                snapshot.total,
            )
        self._outputs.show(snapshot)


def evidence_of(hypothesis: Hypothesis, now_s: float) -> str:
    """Scores, levels and times of an utterance as parts of a message; no word of it.

    Args:
        hypothesis: What was heard.
        now_s: Session time.
    """
    parts: dict[str, float | None] = {
        "from_s": hypothesis.spoken_from_s,
        "to_s": hypothesis.spoken_to_s,
        "late_s": now_s - hypothesis.spoken_to_s,
    }
    evidence = hypothesis.evidence
    if evidence is not None:
        parts |= {
            "average_logprob": evidence.average_logprob,
            "free_gap": evidence.free_gap,
            "margin": evidence.margin,
            "speech_s": evidence.speech_s,
            "signal_to_noise_db": evidence.signal_to_noise_db,
            "second_free_gap": evidence.second_free_gap,
            "second_end_gap": evidence.second_end_gap,
            "third_margin": evidence.third_margin,
            "third_gap": evidence.third_gap,
            "third_end_gap": evidence.third_end_gap,
        }
    told = "".join(f" {name}={value:.3f}" for name, value in parts.items() if value is not None)
    return f" engine={hypothesis.engine}{told}"
