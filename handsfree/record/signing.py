"""Ed25519 (RFC 8032) signatures of one installation. The key says which installation signed, not which person."""

import contextlib
import dataclasses
import os
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from handsfree.errors import RecordError
from handsfree.record.file_lock import lock
from handsfree.record.private_files import open_private, open_to_others, sync_folder
from handsfree.record.record_line import RecordLine
from handsfree.regular_files import read_named

_LARGEST_KEY = 4096


def installation_key(path: Path) -> Ed25519PrivateKey:
    """The key of this installation, made on first use with mode 0600.

    Raises:
        RecordError: The file cannot be read or made, is open to other users, or is not a key.
    """
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not os.path.lexists(path):
            _make(path)
        return _read(path)
    except OSError as error:
        raise RecordError(f"cannot use the signing key {path}: {error.strerror}") from error


def _make(path: Path) -> None:
    """Make a key under another name first: a full disk leaves no key that is none."""
    part = path.with_name(f"{path.name}.part")
    handle = lock(path, wait=True)
    try:
        if os.path.lexists(path):  # another process was quicker
            return
        part.unlink(missing_ok=True)  # what a killed program left
        with os.fdopen(open_private(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL), "w") as file:
            file.write(Ed25519PrivateKey.generate().private_bytes_raw().hex() + "\n")
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise
    finally:
        os.close(handle)
    sync_folder(path.parent)


def _read(path: Path) -> Ed25519PrivateKey:
    if open_to_others(path):
        raise RecordError(f"the signing key {path} is open to other users; it must have mode 0600")
    content = read_named(path, _LARGEST_KEY)
    if not content.strip():
        raise RecordError(f"the signing key {path} is empty, as a full disk leaves it; take it away for a new one")
    try:
        return Ed25519PrivateKey.from_private_bytes(bytes.fromhex(content.decode("ascii").strip()))
    except ValueError as error:
        raise RecordError(f"{path} is not a signing key (64 hexadecimal digits)") from error


def public_hex(key: Ed25519PrivateKey) -> str:
    """The public key, 64 hexadecimal digits."""
    return key.public_key().public_bytes_raw().hex()


def signature_is_good(public_key: str, signature: str, message: bytes) -> bool:
    """Whether the holder of the key signed the message. Malformed input is not good, nor are digits in capitals."""
    if (public_key + signature).lower() != public_key + signature:
        return False
    try:
        Ed25519PublicKey.from_public_bytes(bytes.fromhex(public_key)).verify(bytes.fromhex(signature), message)
    except (InvalidSignature, ValueError):
        return False
    return True


def message_to_sign(line: RecordLine) -> bytes:
    """Canonical bytes of an attestation without its signature and sum: what is signed.

    They hold the count, the stamp, the role, the public key and, through `prev`, every line before.
    """
    data = {name: value for name, value in line.data.items() if name not in ("signature", "sum")}
    return dataclasses.replace(line, data=data).raw
