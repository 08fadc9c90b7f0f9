"""The side in a prompt."""

from pathlib import Path

import pytest

import handsfree
from handsfree.application.equipment import standing_prompts
from handsfree.definition.loader import load_bundle
from handsfree.definition.side_words import SIDE_PLACEHOLDER, with_side
from handsfree.model.readings import Side


@pytest.mark.parametrize(
    ("text", "side", "said"),
    [
        ("Press the {side} thumb.", Side.LEFT, "Press the left thumb."),
        ("{side} thumb: press it.", Side.RIGHT, "Right thumb: press it."),
        ("{side} thumb, then {side} wrist.", Side.LEFT, "Left thumb, then Left wrist."),
        ("Wash your hands.", Side.LEFT, "Wash your hands."),
        ("Press the {side} thumb.", None, "Press the thumb."),
        ("Now the {side}.", None, "Now the."),
        ("{side}", None, ""),
    ],
)
def test_a_prompt_gets_its_side(text, side, said):
    assert with_side(text, side) == said


def test_what_stands_ready_to_be_said_holds_no_placeholder():
    bundle = load_bundle("neurovascular-check")
    sided = [step for step in bundle.procedure.steps if SIDE_PLACEHOLDER in step.prompt]
    assert sided
    prompts = standing_prompts(bundle)
    assert not any(SIDE_PLACEHOLDER in text for text in prompts)
    assert {with_side(step.prompt, side) for step in sided for side in (None, *Side)} <= prompts


def test_the_placeholder_is_filled_in_one_place():
    holds = [
        path.name
        for path in Path(handsfree.__path__[0]).rglob("*.py")
        if '"{side}' in path.read_text(encoding="utf-8").replace('f"{side}', "")
    ]
    assert holds == ["side_words.py"]
