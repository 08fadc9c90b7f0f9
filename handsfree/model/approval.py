"""Whether somebody with the right to do so has approved what a visit runs by."""

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

from handsfree.model.reasons import STRICT


class ApprovalState(StrEnum):
    """How the approval of a procedure stands. Only `VALID` counts."""

    VALID = "valid"
    NONE = "none"
    """There is no approval beside the procedure, or it is a bundled example, which no site approves."""
    CHANGED = "changed"
    """The procedure, a block or a profile is no longer what was approved."""
    OTHER_ROLE = "other_role"
    """The procedure says which role has to approve it, and another one did."""
    UNSIGNED = "unsigned"
    """The site has keys for approvals, and it is signed with none."""
    UNKNOWN_KEY = "unknown_key"
    """It is signed with a key that the site does not name."""
    BAD_SIGNATURE = "bad_signature"
    """The signature does not belong to what stands in the file."""
    UNREADABLE = "unreadable"
    """The file is no approval of a form that this version knows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Approval:
    """How the approval stood when a visit began. It names a role and no person; who it was is in the approval file.

    Attributes:
        state: How it stood.
        role: Role that approved, as given; "" where nobody did or the file cannot be read.
        day: Day of the approval, ISO 8601, UTC; "" likewise.
        key: Public key that signed it, 64 hexadecimal digits; "" where none did.
        file_sha256: Of the approval file; "" where there is none.
    """

    __pydantic_config__: ClassVar[dict[str, object]] = STRICT

    state: ApprovalState
    role: str = ""
    day: str = ""
    key: str = ""
    file_sha256: str = ""

    @property
    def counts(self) -> bool:
        """Whether the procedure may be called approved."""
        return self.state is ApprovalState.VALID
