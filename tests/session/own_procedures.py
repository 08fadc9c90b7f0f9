"""Procedures without light, put together from the steps that a test is about. Every figure is invented."""

from textwrap import indent

from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.understanding.interpreter import interpret, typed

HEAD = """\
form: 1
id: bench
title: Work at an invented bench
version: "0.1.0"
language: en-US
approved_by: null
sources: {common: "common practice, no source"}
cautions: [The product's own instructions come first.]
roles: {fitter: [fitter], supervisor: [bench supervisor]}
skip_reasons: {unavailable: [not available]}
override_reasons: {reviewed: [reviewed by the supervisor], repaired: [put right]}
operator_from: operator.code
steps:
  - id: operator
    kind: identify
    phase: before
    prompt: Spell your code.
    hard: true
    source: common
    fields: [{id: code, label: code, identifier: {max_length: 6, of: other}}]
"""


def step(text):
    """A step of a file from its lines."""
    return indent(text.strip("\n"), "    ").replace("    ", "  - ", 1) + "\n"


def number(name, unit="Cel", more="", keys="timing: during", low=0, high=200):
    """A hard step that measures one number in a field of its own name."""
    return step(f"""
id: {name}
kind: measure
phase: during
prompt: Measure the {name}.
hard: true
source: common
{keys}
fields: [{{id: {name}, label: {name}, number: {{unit: {unit}, low: {low}, high: {high}, decimals: 1{more}}}}}]
""")


def write(folder, *steps, head=HEAD):
    """The file of these steps."""
    path = folder / "bench.yaml"
    path.write_text(head + "".join(steps))
    return path


def begin(folder, *steps, head=HEAD, **session):
    """A visit that has come to the first of these steps."""
    talk = Talk(load_bundle(str(write(folder, *steps, head=head))), practice=True, **session)
    if "operator.code" in head:
        talk.give(code="#A1")
        talk.affirm()
    return talk


def type_line(talk, text):
    """Type a line as a person does at a terminal; it must be understood."""
    heard = typed(text, talk.session.wanted, talk.now_s)
    assert heard is not None, f"{text!r} is not understood: {talk.session.wanted.hint}"
    command = interpret(heard, talk.session.wanted)
    assert command is not None, f"{text!r} means nothing here"
    return talk.speak(command, words=text)
