"""Every bundled procedure loads with the loader that users meet."""

import pytest

from handsfree.application.approvals import approval_of_bundle
from handsfree.definition.loader import bundled_procedures, load_bundle
from handsfree.model.approval import ApprovalState

# The jobs of the field: fitting in three places, taking off, repeated examination, light check; and one from elsewhere.
JOBS = {
    "light-output-check",
    "neurovascular-check",
    "splint-removal",
    "thermometer-calibration",
    "thumb-splint-fitting",
    "ulnar-splint-fitting",
    "wrist-splint-fitting",
}


def test_every_job_is_there():
    assert set(bundled_procedures()) == JOBS


@pytest.mark.parametrize("name", sorted(JOBS))
def test_loads_without_a_fault(name):
    bundle = load_bundle(name)
    assert bundle.procedure.id == name
    assert approval_of_bundle(bundle).state is ApprovalState.NONE


@pytest.mark.parametrize("name", sorted(name for name in JOBS if name.endswith("fitting")))
def test_a_fitting_lights_open_zones_before_the_one_under_the_strap(name):
    # Common practice, no source: fracture side first; a shadowed zone gets no light before the strap is off.
    bundle = load_bundle(name)
    assert bundle.device is not None
    zones = sorted(bundle.device.zones, key=lambda zone: zone.order)
    assert zones[0].id == "fracture_side"
    assert [zone.strap_shadowed for zone in zones] == [False, False, False, False, True]
    exposures = [step.zones for step in bundle.procedure.steps if step.kind == "expose"]
    assert exposures == ["open", "strap"]
