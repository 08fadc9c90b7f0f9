"""The lamp's own beeps beside the spoken times. A disagreement is named, never settled."""

from collections.abc import Iterable

from handsfree.exposure.ledger import BEEP_TOLERANCE_S
from handsfree.exposure.runs import LightRun
from handsfree.model.light import LampAgreement


def compare(
    run: LightRun,
    beeps_s: Iterable[float],
    interval_s: float,
    next_on_s: float | None = None,
    tolerance_s: float = BEEP_TOLERANCE_S,
) -> LampAgreement:
    """Set a run beside the beeps; nothing is changed by it.

    Args:
        run: A closed run.
        beeps_s: Session times of all beeps that were heard.
        interval_s: Seconds from beep to beep while lit.
        next_on_s: When the light next went on, or None.
        tolerance_s: How far words and beeps may be apart.
    """
    moments = [at_s for at_s in beeps_s if at_s >= run.from_s - tolerance_s]
    until_s = float("inf") if next_on_s is None else next_on_s - tolerance_s
    if any(run.to_s + tolerance_s < at_s < until_s for at_s in moments):
        return LampAgreement.BEEP_AFTER_OFF
    expected = int(max(0.0, run.to_s - run.from_s - tolerance_s) / interval_s)
    heard = sum(at_s <= run.to_s + tolerance_s for at_s in moments)
    return LampAgreement.BEEPS_MISSING if heard < expected else LampAgreement.AGREES
