"""The form of a record's lines as JSON Schema (draft 2020-12), made from the types that read and write them."""

from typing import Any, cast

from pydantic import TypeAdapter

from handsfree.record.codec import fact_form
from handsfree.record.header import FORM
from handsfree.record.own_lines import HEADER, OWN_KINDS, own_form

_DRAFT = "https://json-schema.org/draft/2020-12/schema"
_SHA256 = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
_FACTS = "facts"
Schema = dict[str, Any]


def record_schema() -> Schema:
    """The schema of one line of a record of the form that this program writes.

    What a schema cannot say is left to `handsfree verify`: canonical bytes, the chain, sums, counts, signatures.
    """
    kinds = sorted(OWN_KINDS - {HEADER})
    adapters: list[tuple[str, Any, TypeAdapter[Any]]] = [
        (HEADER, "serialization", own_form(HEADER).adapter),
        *((kind, "serialization", own_form(kind).adapter) for kind in kinds),
        (_FACTS, "serialization", fact_form().adapter),
    ]
    schemas, shared = TypeAdapter.json_schemas(adapters)
    definitions = cast("Schema", shared["$defs"])
    data = {kind: _with_sum(definitions, schemas[kind, "serialization"]) for kind in (HEADER, *kinds)}
    facts = cast("dict[str, str]", schemas[_FACTS, "serialization"]["discriminator"]["mapping"])
    data |= {kind: _without_kind(definitions, reference) for kind, reference in sorted(facts.items())}
    return {
        "$schema": _DRAFT,
        "title": "handsfree record",
        "description": f"One line of record.jsonl, form {FORM}.",
        "type": "object",
        "properties": {
            "seq": {"type": "integer", "minimum": 0, "description": "Position, from 0."},
            "prev": _SHA256 | {"description": "SHA-256 of the line before; 64 zeros for the first."},
            "at": {"type": "string", "format": "date-time", "description": "UTC, with milliseconds."},
            "kind": {"enum": list(data), "description": "What the line states, past tense."},
            "data": {"type": "object"},
        },
        "required": ["seq", "prev", "at", "kind", "data"],
        "additionalProperties": False,
        "allOf": [
            {"if": {"properties": {"kind": {"const": kind}}}, "then": {"properties": {"data": reference}}}
            for kind, reference in data.items()
        ],
        "$defs": _bare(definitions),
    }


def _named(definitions: Schema, reference: Schema) -> Schema:
    return cast("Schema", definitions[str(reference["$ref"]).rpartition("/")[2]])


def _with_sum(definitions: Schema, reference: Schema) -> Schema:
    """The journal's own lines carry a sum over themselves."""
    own = _named(definitions, reference)
    own["properties"]["sum"] = _SHA256 | {"description": "SHA-256 of the line without this member."}
    own["required"].append("sum")
    return reference


def _without_kind(definitions: Schema, place: str) -> Schema:
    """The kind of a fact stands beside its data."""
    reference = {"$ref": place}
    fact = _named(definitions, reference)
    del fact["properties"]["kind"]
    fact["required"].remove("kind")
    return reference


def _bare(schema: Any) -> Any:  # noqa: ANN401 - any part of a schema
    """Without what the draft does not know, and defaults: every member is always written."""
    if isinstance(schema, list):
        return [_bare(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    return {name: _bare(item) for name, item in schema.items() if name not in ("discriminator", "default")}
