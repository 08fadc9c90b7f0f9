"""Whether the patient can be relied on to report heat, and when the late question about it is due. Pure."""

from dataclasses import replace

from handsfree.definition.plan import Plan
from handsfree.exposure.light_cues import GuidanceProfile
from handsfree.model.readings import Option
from handsfree.session.modes import Mode
from handsfree.session.state import SessionState


def guidance_now(plan: Plan, planned: GuidanceProfile, state: SessionState) -> GuidanceProfile:
    """When to speak: by whether the patient can report heat, as confirmed so far, and how fast people answer cues."""
    return replace(planned.led_by(state.reactions_s), patient_reports_heat=heat_is_reported(plan, state))


def heat_is_reported(plan: Plan, state: SessionState) -> bool:
    """Whether the patient can be relied on to report heat, by what is confirmed so far and the procedure file."""
    for stage in plan.stages:
        for field in stage.step.fields:
            taken = state.answers.get(stage.id, {}).get(field.id) if field.no_heat_report else None
            if taken is not None and isinstance(taken.value, Option) and taken.value.value in field.no_heat_report:
                return False
    return True


def late_question_due(state: SessionState) -> bool:
    """Whether the late question about heat is to be asked now."""
    window = state.late_window_s
    resting = state.modes.top in {Mode.ASKING, Mode.OPEN_ITEMS}
    return window is not None and not state.lit and state.now_s >= window[0] and resting and not state.pending


def asked_in_pause(state: SessionState) -> bool:
    """Whether a stop word broke in on the question about warmth, or raised it: it may be answered in the pause."""
    return state.modes.top is Mode.PAUSED and state.stopped and state.modes.all[-2] is Mode.WARMTH


def warmth_is_open(state: SessionState) -> bool:
    """Whether a question about warmth waits for an answer, and nothing else was begun meanwhile."""
    return state.modes.top in {Mode.WARMTH, Mode.LATE_HEAT} or asked_in_pause(state)
