"""What is said where a visit runs without an approval that counts."""

from collections.abc import Mapping

from handsfree.model.approval import Approval, ApprovalState
from handsfree.session.prompts.fixed import Fixed

NOT_APPROVED: Mapping[ApprovalState, Fixed] = {
    ApprovalState.NONE: Fixed.NOT_APPROVED,
    ApprovalState.CHANGED: Fixed.APPROVAL_CHANGED,
    ApprovalState.OTHER_ROLE: Fixed.APPROVAL_OTHER_ROLE,
    ApprovalState.UNSIGNED: Fixed.APPROVAL_UNSIGNED,
    ApprovalState.UNKNOWN_KEY: Fixed.APPROVAL_UNKNOWN_KEY,
    ApprovalState.BAD_SIGNATURE: Fixed.APPROVAL_BAD_SIGNATURE,
    ApprovalState.UNREADABLE: Fixed.APPROVAL_UNREADABLE,
}
"""The sentence of every state but the one that counts."""


def not_approved(approval: Approval | None) -> Fixed:
    """The sentence of an approval that does not count; records of before say none."""
    return NOT_APPROVED[approval.state] if approval is not None else Fixed.NOT_APPROVED
