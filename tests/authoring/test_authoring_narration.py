"""What a check says of a visit that is narrated, and the card of its words. Common practice, no source."""

import pytest
from click.testing import CliRunner

from handsfree.application.approvals import approval_of_bundle
from handsfree.authoring.card import card_html, card_text
from handsfree.authoring.checks import check
from handsfree.authoring.findings import FindingLevel
from handsfree.commands.author import card
from handsfree.definition.loader import bundled_procedures, load_bundle

HEAD = """\
form: 1
id: twice
title: Two steps with the same words
version: "1.0.0"
language: en-US
approved_by: null
sources: {common: "common practice, no source"}
cautions: [The product's own instructions come first.]
roles: {nurse: [ward nurse]}
skip_reasons: {declined: [patient declined]}
override_reasons: {reviewed: [reviewed by the senior]}
steps:
"""
STEP = """\
  - id: {id}
    kind: finding
    phase: during
    prompt: "Median, ulnar?"
    hard: true
    source: common
{topic}    fields:
      - {{id: median, label: median, options: {{strong: [{word}], absent: [absent]}}}}
      - {{id: ulnar, label: ulnar, options: {{strong: [{word}], absent: [absent]}}}}
"""


def errors(folder, *steps):
    path = folder / "twice.yaml"
    path.write_text(HEAD + "".join(STEP.format(**step) for step in steps), encoding="utf-8")
    return [one for one in check(str(path)) if one.level is FindingLevel.ERROR]


def test_what_could_be_meant_for_two_is_an_error_that_says_which_topic_would_help(tmp_path):
    one = {"id": "sensation_before", "topic": "", "word": "intact"}
    two = {"id": "power_before", "topic": "    topic: power\n", "word": "firm"}
    (found,) = errors(tmp_path, one, two)
    assert found.code == "narration"
    assert '"median" with absent could be of sensation_before or power_before' in found.text
    assert found.advice == "give topic: sensation to sensation_before"


def test_with_topics_there_is_none_and_the_same_topic_twice_is_no_help(tmp_path):
    one = {"id": "sensation", "topic": "    topic: sensation\n", "word": "intact"}
    two = {"id": "power", "topic": "    topic: power\n", "word": "intact"}
    assert errors(tmp_path, one, two) == []
    (found,) = errors(tmp_path, one, two | {"topic": "    topic: sensation\n"})
    assert found.text == '"sensation" is the topic of sensation in the same phase'


def test_a_topic_is_no_stop_word(tmp_path):
    (found,) = errors(tmp_path, {"id": "scores", "topic": "    topic: pain\n", "word": "intact"})
    assert "stop word" in found.text


def test_reported_belongs_to_what_is_confirmed(tmp_path):
    found = errors(tmp_path, {"id": "scores", "topic": "    reported: [all done]\n", "word": "intact"})
    assert any("reported belongs to kind confirm" in one.text for one in found)


@pytest.mark.parametrize("name", bundled_procedures())
def test_bundled_procedures_have_no_collision_and_every_step_of_a_phase_a_name(name):
    assert [one for one in check(name) if one.level is FindingLevel.ERROR] == []
    for step in load_bundle(name).procedure.steps:
        if step.kind == "confirm":
            assert step.reported, step.id


@pytest.mark.parametrize("name", bundled_procedures())
def test_the_card_of_a_narrated_visit_has_every_item_with_its_words(name):
    bundle = load_bundle(name)
    stands = approval_of_bundle(bundle)
    text, page = card_text(bundle, stands, narrated=True), card_html(bundle, stands, narrated=True)
    assert page.count('class="step"') == len(bundle.procedure.steps)
    assert "what is missing" in text
    assert "correction, name, value" in text
    for step in bundle.procedure.steps:
        assert all(phrase in text for phrase in step.reported)
        for field in step.fields:
            assert field.label in text
            for phrases in (field.options or {}).values():
                assert phrases[0] in text


def test_the_command_prints_it():
    done = CliRunner().invoke(card, ["splint-removal", "--narrated", "--text"])
    assert done.exit_code == 0
    assert "listen to me" in done.stdout
