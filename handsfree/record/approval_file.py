"""The approval of a procedure as a file beside it: who, in which role, when, of what, signed where the site has a key.

It holds the expanded procedure and profiles as they were approved, so that whoever approves the next version sees what
changed. The signature (Ed25519, RFC 8032) is over the canonical form (RFC 8785) of all members but itself and that
text, whose hash is among them. The key says which installation signed, not which person.
"""

import dataclasses
import hashlib
import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any, Literal

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from handsfree.errors import RecordError
from handsfree.model.effects import Json
from handsfree.record.record_line import canonical
from handsfree.record.signing import public_hex, signature_is_good
from handsfree.stamps import stamp

ENDING = ".approval.json"
"""What the name of an approval ends with, in place of the ending of the procedure file."""
_Hex64 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
_Words = Annotated[str, Field(min_length=1, max_length=200)]


class _Form(BaseModel):
    """The members of an approval file."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    form: Literal[1]
    procedure: _Words
    version: _Words
    sha256: _Hex64
    name: _Words
    role: _Words
    approved: Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d{1,6})?Z$")]
    public_key: Annotated[str, Field(pattern=r"^([0-9a-f]{64})?$")] = ""
    signature: Annotated[str, Field(pattern=r"^([0-9a-f]{128})?$")] = ""
    expanded: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class ApprovalFile:
    """A whole approval.

    Attributes:
        procedure: Identifier of the procedure.
        version: Its version.
        sha256: SHA-256 of the expanded procedure and profiles.
        name: Who approved.
        role: In which role.
        approved: When, RFC 3339 UTC.
        public_key: Key that signed, 64 hexadecimal digits; "" where none did.
        signature: 128 hexadecimal digits; "" likewise.
        expanded: The procedure and profiles as they were approved, as JSON text.
    """

    procedure: str
    version: str
    sha256: str
    name: str
    role: str
    approved: str
    public_key: str = ""
    signature: str = ""
    expanded: bytes

    @property
    def day(self) -> str:
        """Day of the approval, ISO 8601, UTC."""
        return self.approved[:10]

    @property
    def signed(self) -> bool:
        """Whether it carries a signature, good or not."""
        return bool(self.public_key or self.signature)

    @property
    def signature_fits(self) -> bool:
        """Whether the holder of its key signed what stands in it."""
        return signature_is_good(self.public_key, self.signature, self.message)

    @property
    def message(self) -> bytes:
        """What is signed."""
        told: dict[str, Json] = {
            "form": 1,
            "procedure": self.procedure,
            "version": self.version,
            "sha256": self.sha256,
            "name": self.name,
            "role": self.role,
            "approved": self.approved,
            "public_key": self.public_key,
        }
        return canonical(told)

    @property
    def text(self) -> str:
        """The file."""
        whole: dict[str, object] = {
            **json.loads(self.message),
            "signature": self.signature,
            "expanded": json.loads(self.expanded),
        }
        return json.dumps(whole, ensure_ascii=False, indent=1) + "\n"


def approval_path(procedure: Path) -> Path:
    """Where the approval of a procedure file lies."""
    return procedure.with_name(procedure.stem + ENDING)


def as_kept(expanded: object) -> bytes:
    """The text of an expanded procedure that is hashed, from its JSON; the order of keys stays."""
    return (json.dumps(expanded, ensure_ascii=False, indent=1) + "\n").encode()


def approval_of(
    expanded: bytes,
    *,
    procedure: str,
    version: str,
    name: str,
    role: str,
    at: datetime,
    key: Ed25519PrivateKey | None,
) -> ApprovalFile:
    """Approve an expanded procedure.

    Args:
        expanded: The procedure and profiles, as JSON text.
        procedure: Identifier of the procedure.
        version: Its version.
        name: Who approves.
        role: In which role.
        at: When.
        key: Signs it; None leaves it unsigned.
    """
    made = ApprovalFile(
        procedure=procedure,
        version=version,
        sha256=hashlib.sha256(expanded).hexdigest(),
        name=name,
        role=role,
        approved=stamp(at),
        public_key=public_hex(key) if key is not None else "",
        expanded=expanded,
    )
    return dataclasses.replace(made, signature=key.sign(made.message).hex()) if key is not None else made


def read_approval(content: bytes) -> ApprovalFile:
    """Read an approval file.

    Raises:
        RecordError: It is no approval, of another form, or what it holds is not what its hash says.
    """
    try:
        form = _Form.model_validate_json(content)
    except (ValidationError, ValueError, RecursionError):
        raise RecordError("is no approval of a form that this version knows") from None
    expanded = as_kept(form.expanded)
    if hashlib.sha256(expanded).hexdigest() != form.sha256:
        raise RecordError("holds another procedure than its hash says")
    return ApprovalFile(
        procedure=form.procedure,
        version=form.version,
        sha256=form.sha256,
        name=form.name,
        role=form.role,
        approved=form.approved,
        public_key=form.public_key,
        signature=form.signature,
        expanded=expanded,
    )
