"""Files without keys, and keys of several shapes. What would be right follows from the forms; no outside source."""

from typing import Annotated

import pytest
from pydantic import Discriminator, Tag

from handsfree.authoring.checks import check
from handsfree.definition.form_base import Strict
from handsfree.definition.source_lines import parse_source, validate


@pytest.mark.parametrize("content", ["", "hello", "- a\n- b\n"])
def test_a_file_without_keys_is_told_how_to_begin(tmp_path, content):
    path = tmp_path / "plain.yaml"
    path.write_text(content, encoding="utf-8")
    assert [one.text for one in check(str(path))] == [
        "has no keys with values (begin with form: 1, or with handsfree new)"
    ]


class Shapes(Strict):
    """A key of two shapes, as pydantic tells them apart by a tag that stands in no file."""

    bound: Annotated[
        Annotated[int, Tag("one")] | Annotated[dict[str, int], Tag("each")],
        Discriminator(lambda value: "each" if isinstance(value, dict) else "one"),
    ]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("bound: x", "f:1: bound: 'x' is no number (the number alone, with a point: 45.5)"),
        ("bound: {amber: x}", "f:1: bound.amber: 'x' is no number (the number alone, with a point: 45.5)"),
    ],
)
def test_the_shape_that_pydantic_takes_is_no_part_of_the_place(text, line):
    source = parse_source(text, "f")
    assert validate(source, Shapes) is None
    assert source.described_faults() == [line]
