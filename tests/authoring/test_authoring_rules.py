"""Card, chart and approval show every rule of a step: none can be missing because nobody thought of it.

Legibility: ISO 9241-303, capitals of at least 16 minutes of arc (as quoted in NUREG-0700 rev. 2, 1.3.1). Height of
capitals of Arial and Liberation Sans: 1466 of 2048 units (OpenType OS/2 sCapHeight of the faces).
"""

import math
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from handsfree.application.approvals import approval_of_bundle
from handsfree.authoring.card import SIZES_PT, card_html, card_text
from handsfree.authoring.chart import mermaid, svg
from handsfree.authoring.rules import RuleBook, RuleKind, grouped
from handsfree.definition.loader import bundled_procedures, load_bundle
from handsfree.definition.step_form import Step

GUIDE = Path(__file__).parents[2] / "handsfree" / "procedures" / "guide"
ARM_MM = 500
POINT_MM = 25.4 / 72


class LaterStep(Step):
    """A form of steps with keys that nobody has put into words yet."""

    rest_min: int | None = None
    witness: dict[str, str] = {}  # noqa: RUF012 - a default of a pydantic form


def test_the_smallest_type_is_read_at_half_a_metre():
    capital_mm = min(SIZES_PT) * POINT_MM * 1466 / 2048
    assert math.degrees(math.atan2(capital_mm, ARM_MM)) * 60 >= 16
    sizes = {float(px) for px in re.findall(r"font(?:-size)?: (\d+)px", svg(load_bundle("splint-removal").plan))}
    assert min(sizes) * 0.75 >= min(SIZES_PT)


def test_a_key_without_words_is_shown_by_its_name():
    bundle = load_bundle("splint-removal")
    step = bundle.procedure.steps[0]
    later = LaterStep.model_validate(step.model_dump() | {"rest_min": 2, "witness": {"role": "surgeon"}}, strict=False)
    shown = dict(grouped(RuleBook(bundle.procedure, bundle.device).of(later)))
    assert "rest min 2" in shown[RuleKind.CHECK]
    assert "witness role: surgeon" in shown[RuleKind.CHECK]


@pytest.mark.parametrize("name", bundled_procedures())
def test_every_limit_stop_and_item_is_on_card_and_chart(name):
    bundle = load_bundle(name)
    text = " ".join(card_text(bundle, approval_of_bundle(bundle)).split())
    drawn = " ".join(re.sub(r"<[^>]+>", " ", svg(bundle.plan, bundle.device)).split())
    for shown in (text, drawn):
        assert re.search(r"\{[a-z_]+\}", shown) is None
        for step in bundle.procedure.steps:
            numbers = [field.number for field in step.fields if field.number is not None]
            limits = [one for number in numbers for one in (number.flag_above, number.flag_below) if one is not None]
            assert all(str(one) in shown for one in limits), step.id
            for item in step.items:
                assert item.say.split()[0] in shown
            for field in step.fields:
                for option in (*field.stop, *field.red, *field.amber):
                    assert (field.options or {})[option][0] in shown
    bands = {f.number.band for s in bundle.procedure.steps for f in s.fields if f.number is not None and f.number.band}
    for band in bands:
        assert f"outside {bundle.device.bands[band].low} to {bundle.device.bands[band].high}" in text
    for line in RuleBook(bundle.procedure).lifts():
        assert line in text


def test_who_may_lift_is_told_in_the_words_that_are_said():
    told = card_text(load_bundle("ulnar-splint-fitting"), approval_of_bundle(load_bundle("ulnar-splint-fitting")))
    assert "red: surgeon or hand therapist, senior agrees or settled after inspection" in told
    assert "Lift nobody." in told  # the answers that are never overridden
    assert "RED pulse, temperature worse than before" in told
    assert "Only if care passes next: ward or clinic" in told


def test_a_condition_and_what_is_computed_are_told_as_people_say_them():
    # Behaviour of our own; no outside source.
    bundle = load_bundle(str(GUIDE / "cast-removal.yaml"))
    condition = "blade after at least 40 Cel or padding: with gaps"
    told = card_text(bundle, approval_of_bundle(bundle))
    assert f"Only if {condition}." in told
    assert "Note rise is blade after less blade before." in told
    assert f"if {condition}</text>" in svg(bundle.plan)
    assert f'-->|"{condition}"|' in mermaid(bundle.plan)
    bath = load_bundle(str(GUIDE / "water-bath.yaml"))
    told = card_text(bath, approval_of_bundle(bath))
    assert "mean of the bath is the mean of bath; time since switched on is the time from filled to bath." in told


@pytest.mark.parametrize(("name", "called"), [("splint-removal", "DURING"), ("ulnar-splint-fitting", "INSPECTION")])
def test_where_there_is_no_light_nothing_is_called_inspection_on_the_card(name, called):
    bundle = load_bundle(name)
    told = card_text(bundle, approval_of_bundle(bundle), narrated=True).splitlines()
    assert {"DURING", "INSPECTION"} & set(told) == {called}


@pytest.mark.skipif(shutil.which("chromium") is None, reason="no Chromium to print with")
def test_the_card_of_a_fitting_is_printed_on_two_pages_of_a4(tmp_path):
    bundle = load_bundle("ulnar-splint-fitting")  # the one with the most words
    page = card_html(bundle, approval_of_bundle(bundle))
    (tmp_path / "card.html").write_text(page, encoding="utf-8")
    command = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"]
    command += [f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={tmp_path / 'card.pdf'}"]
    subprocess.run([*command, (tmp_path / "card.html").as_uri()], check=True, capture_output=True, timeout=120)
    pages = re.findall(rb"/Type /Page\b(?!s)", (tmp_path / "card.pdf").read_bytes())
    assert 1 <= len(pages) <= 2
