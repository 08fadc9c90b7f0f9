"""Whether what a visit runs by is approved: the file beside the procedure, held against the procedure and the keys."""

import hashlib
from collections.abc import Sequence

from handsfree.application.places import usual_config, usual_key
from handsfree.config import read_config
from handsfree.definition.loader import Bundle
from handsfree.errors import RecordError, UsageError
from handsfree.model.approval import Approval, ApprovalState
from handsfree.record.approval_file import ApprovalFile, read_approval
from handsfree.record.signing import installation_key, public_hex


def approval_of_bundle(bundle: Bundle, site_keys: Sequence[str] = ()) -> Approval:
    """How the approval of a procedure stands.

    Args:
        bundle: The procedure with its profiles, and the approval that lies beside it.
        site_keys: Public keys that the site names for approvals, 64 hexadecimal digits each. Where it names any, an
            approval has to be signed with one of them; else with none, or with the key of this installation.
    """
    if bundle.approval is None:
        return Approval(state=ApprovalState.NONE)
    digest = hashlib.sha256(bundle.approval).hexdigest()
    try:
        approval = read_approval(bundle.approval)
    except RecordError:
        return Approval(state=ApprovalState.UNREADABLE, file_sha256=digest)
    return Approval(
        state=_state(approval, bundle, site_keys),
        role=approval.role,
        day=approval.day,
        key=approval.public_key,
        file_sha256=digest,
    )


def _state(approval: ApprovalFile, bundle: Bundle, site_keys: Sequence[str]) -> ApprovalState:
    if approval.signed and not approval.signature_fits:
        return ApprovalState.BAD_SIGNATURE
    if approval.signed and approval.public_key not in (site_keys or _own_keys()):
        return ApprovalState.UNKNOWN_KEY
    if site_keys and not approval.signed:
        return ApprovalState.UNSIGNED
    if approval.sha256 != hashlib.sha256(bundle.expanded).hexdigest():
        return ApprovalState.CHANGED
    wanted = bundle.procedure.approved_by
    if wanted is not None and wanted != approval.role:
        return ApprovalState.OTHER_ROLE
    return ApprovalState.VALID


def usual_site_keys() -> tuple[str, ...]:
    """The keys that the usual configuration names, for what takes no other: rehearsal and practice."""
    try:
        return read_config(usual_config()).approval.keys
    except UsageError:  # none there, or one with faults, which the commands that need it tell
        return ()


def _own_keys() -> tuple[str, ...]:
    """The public key of this installation, where it has one: none is made to look at an approval."""
    place = usual_key()
    try:
        return (public_hex(installation_key(place)),) if place.is_file() else ()
    except (OSError, RecordError):
        return ()
