"""A push in a process of its own, so that nobody waits for a store."""

import logging
import os
import subprocess
import sys
from pathlib import Path

_LOG = logging.getLogger(__name__)


def push_later(folder: Path, address: str) -> None:
    """Begin to push a folder in the background, and go on at once; what becomes of it is seen in `store status`.

    Args:
        folder: Folder whose subfolders are records.
        address: Of the store.
    """
    asked = [
        sys.executable,
        "-m",
        "handsfree",
        "store",
        "push",
        str(folder.absolute()),
        "--to",
        address,
        "--keep-trying",
    ]
    detached = {"start_new_session": True} if os.name == "posix" else {"creationflags": 0x00000008}  # DETACHED_PROCESS
    try:
        subprocess.Popen(
            asked,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            **detached,
        )
    except OSError as error:
        _LOG.warning("push_not_begun errno=%s", error.errno)
