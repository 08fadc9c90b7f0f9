"""The form of the files as JSON Schema (draft 2020-12), so that an editor can complete and mark keys."""

from typing import Any

from pydantic import BaseModel

from handsfree.definition.blocks import SHARED, BlockFile, Use
from handsfree.definition.form import Procedure
from handsfree.definition.profile_form import DeviceProfile, LightFile
from handsfree.definition.translation import Translation
from handsfree.record.schema import record_schema

KINDS: dict[str, type[BaseModel]] = {
    "procedure": Procedure,
    "blocks": BlockFile,
    "device": DeviceProfile,
    "light": LightFile,
    "translation": Translation,
}
"""Kinds of file and what each is checked against."""
RECORD = "record"
"""Not a file that people write: the lines of a record."""
_DRAFT = "https://json-schema.org/draft/2020-12/schema"


def schema_of(kind: str) -> dict[str, Any]:
    """The schema of one kind of file, as people write it: with blocks, before they are put in.

    Args:
        kind: A key of `KINDS`, or `RECORD`.
    """
    if kind == RECORD:
        return record_schema()
    schema = KINDS[kind].model_json_schema(by_alias=True)
    if kind == "procedure":
        _with_blocks(schema)
    return {"$schema": _DRAFT, "title": f"handsfree {kind}", **{k: v for k, v in schema.items() if k != "title"}}


def _with_blocks(schema: dict[str, Any]) -> None:
    """A procedure may include files, hold blocks, and use them in place of steps."""
    blocks = BlockFile.model_json_schema(by_alias=True)
    use = Use.model_json_schema(by_alias=True)
    definitions = schema["$defs"]
    definitions["Block"] = blocks["$defs"]["Block"]
    definitions["Use"] = use
    properties = schema["properties"]
    properties["include"] = {
        "type": "array",
        "items": {"type": "string", "pattern": "^[a-z][a-z0-9-]*$"},
        "description": "Files of blocks, without .yaml: beside the procedure, in its folder blocks, or bundled.",
    }
    properties["blocks"] = {"type": "object", "additionalProperties": {"$ref": "#/$defs/Block"}}
    properties["steps"]["items"] = {"anyOf": [{"$ref": "#/$defs/Step"}, {"$ref": "#/$defs/Use"}]}
    # What an included file may bring along is not asked for twice.
    schema["required"] = [name for name in schema["required"] if name not in {"sources", *SHARED}]
