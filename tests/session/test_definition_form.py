"""The file form explains itself: the docstring of each part of it names every key that the part may have."""

import re

import pytest

from handsfree.definition import blocks, field_form, form, profile_form, step_form, translation
from handsfree.definition.form_base import Strict

MODULES = (form, field_form, step_form, profile_form, blocks, translation)
PARTS = sorted(
    {
        part
        for module in MODULES
        for part in vars(module).values()
        if isinstance(part, type) and issubclass(part, Strict) and part is not Strict
    },
    key=lambda part: part.__name__,
)


def explained(part):
    """Names under "Attributes:" of a docstring, with their first line (Google style)."""
    _, _, text = (part.__doc__ or "").partition("Attributes:\n")
    return dict(re.findall(r"^ {8}(\w+): (.+)$", text, re.MULTILINE))


def test_every_part_of_the_form_is_looked_at():
    assert {"Procedure", "Step", "StepField", "Number", "DeviceProfile", "LightFile", "Use", "Translation"} <= {
        part.__name__ for part in PARTS
    }


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.__name__)
def test_every_key_is_explained_where_it_is_declared_and_no_other(part):
    assert list(explained(part)) == list(part.model_fields)
