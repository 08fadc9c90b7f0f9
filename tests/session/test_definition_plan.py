"""The plan of a procedure: stages, phases, gates. The gates are held against lists written by hand from the files."""

from itertools import chain

import pytest
from procedure_files import PROCEDURE

from handsfree.definition.form import Procedure
from handsfree.definition.loader import bundled_procedures, load_bundle
from handsfree.definition.plan import VisitPhase, compile_procedure
from handsfree.definition.source_lines import parse_source, validate
from handsfree.model.readings import Side
from handsfree.session.visit import name_of, stage_of_name


@pytest.fixture(scope="module")
def plan():
    procedure = validate(parse_source(PROCEDURE, "small"), Procedure)
    assert procedure is not None
    return compile_procedure(procedure)


def test_a_step_for_each_side_becomes_two_stages_injured_first(plan):
    assert [stage.id for stage in plan.stages_of("nerve_before")] == ["nerve_before@injured", "nerve_before@other"]
    assert [stage.id for stage in plan.stages_of("ring")] == ["ring"]


def test_stages_keep_the_order_of_the_file(plan):
    order = list(dict.fromkeys(stage.step.id for stage in plan.stages))
    assert order == [step.id for step in plan.procedure.steps]
    assert all(plan.stage(stage.id) is stage and plan.stages[plan.index(stage.id)] is stage for stage in plan.stages)


@pytest.mark.parametrize("name", bundled_procedures())
def test_phases_never_go_back_and_every_gate_has_its_phase(name):
    whole = compile_procedure(load_bundle(name).procedure)
    order = list(VisitPhase)
    numbers = [order.index(whole.phases[stage.id]) for stage in whole.stages]
    assert numbers == sorted(numbers)
    assert [gate.into for gate in whole.gates] == list(whole.phases_in_order[1:])


# The surgical safety checklist has its pauses before, during (time out) and after (WHO 2009); which steps stand before
# the light follows from ICNIRP 2013 (eyewear) and common practice, no source, for the rest.
FITTING_PHASES = {
    "opening": ["session_kind"],
    "before": [
        *(
            "patient",
            "operator",
            "operator_code",
            "order",
            "injury",
            "injury_date",
            "identity",
            "consent",
            "side_verification",
        ),
        *("contraindications_wound", "contraindications_limb", "allergies", "cautions_feeling", "cautions_skin"),
        *("analgesia", "jewelry", "swelling", "circumference", "device_lot", "device_expiry", "device_condition"),
        *("light_check", "skin_before", "circulation_before", "sensation_before", "power_before", "pain_before"),
        *("padding", "setup", "eye_protection", "stop_word"),
    ],
    "time_out": ["time_out"],
    "position": ["sleeve_on", "position", "rotation"],
    "light": ["expose_open", "position_mid", "expose_strap"],
    "inspection": [
        *("touch_check", "firmness", "motion", "resin", "eyewear_off", "skin_after", "circulation_after"),
        *("sensation_after", "power_after", "pain_after", "position_after"),
    ],
    "after": [
        *("image_after", "teach_care", "teach_red_flags", "leaflet", "follow_up_check", "follow_up_clinic"),
        *("care_passes", "handover", "delivery", "incident", "sign_out"),
    ],
}
SOFT = {"patient", "cautions_skin", "analgesia", "padding", "sleeve_on", "teach_care", "delivery"}
BEFORE_LIGHT = {
    *("skin_before", "circulation_before", "sensation_before", "power_before", "pain_before", "eye_protection"),
    *("setup", "stop_word", "time_out", "position", "rotation"),
}
"""What the light requires, skipped or not: baseline, eyewear, time-out, position."""


def test_the_phases_of_a_fitting_are_those_written_down():
    whole = compile_procedure(load_bundle("ulnar-splint-fitting").procedure)
    found = {}
    for stage in whole.stages:
        found.setdefault(whole.phases[stage.id].value, []).append(stage.step.id)
    assert {phase: list(dict.fromkeys(steps)) for phase, steps in found.items()} == FITTING_PHASES


def test_the_gates_of_a_fitting_are_those_written_down():
    whole = compile_procedure(load_bundle("ulnar-splint-fitting").procedure)
    before = []
    gates = {gate.into.value: gate for gate in whole.gates}
    for phase, following in zip(FITTING_PHASES, [*list(FITTING_PHASES)[1:], "closing"], strict=True):
        before += [step for step in FITTING_PHASES[phase] if step not in SOFT]
        gate = gates[following]
        assert {stage_id.partition("@")[0] for stage_id in gate.answered} == set(before), following
    never = {into: {stage_id.partition("@")[0] for stage_id in gate.not_skipped} for into, gate in gates.items()}
    assert never.pop("light") == BEFORE_LIGHT
    assert never.pop("inspection") == set()  # eyewear_off, required there, is asked in that phase itself
    assert not any(never.values())


@pytest.mark.parametrize(
    ("name", "phases"),
    [
        ("splint-removal", ["opening", "before", "inspection", "after", "closing"]),
        ("neurovascular-check", ["opening", "before", "inspection", "after", "closing"]),
        ("light-output-check", ["opening", "before", "inspection", "after", "closing"]),
    ],
)
def test_a_procedure_without_light_has_no_gate_into_light(name, phases):
    assert [phase.value for phase in compile_procedure(load_bundle(name).procedure).phases_in_order] == phases


@pytest.mark.parametrize("injured", [None, *Side])
@pytest.mark.parametrize("name", bundled_procedures())
def test_a_stage_is_found_by_the_name_that_it_has_on_record(name, injured):
    # Own rule of this project; the names are those of `name_of`.
    whole = compile_procedure(load_bundle(name).procedure)
    for stage in whole.stages:
        assert stage_of_name(whole, name_of(stage, injured), injured) is stage
        assert stage_of_name(whole, stage.id, injured) is stage
        assert stage_of_name(whole, stage.step.id, injured) is whole.stages_of(stage.step.id)[0]
    for nothing in ("override", "override@left", "ring@", "@left"):
        assert stage_of_name(whole, nothing, injured) is None


def test_stages_are_told_apart_by_phase(plan):
    assert [*chain.from_iterable(map(plan.stages_in, plan.phases_in_order))] == [*plan.stages]
    assert all(plan.phases[stage.id] is VisitPhase.LIGHT for stage in plan.stages_in(VisitPhase.LIGHT))
    assert plan.stages_in(VisitPhase.CLOSING) == ()
