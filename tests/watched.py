"""Runs a command where there is no network, and tells what it asked the kernel for meanwhile.

The command gets a network namespace of its own with nothing but a loopback interface that is down, and files in place
of the machine's own that send every look-up of a name to a name server: the one at 192.0.2.53, an address that is kept
for documentation (RFC 5737). strace(1) writes down each call of each process, of threads and of what they start.
"""

import re
import shutil
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
NAME_SERVER = "192.0.2.53"
LOCAL = frozenset({"AF_UNIX", "AF_LOCAL", "AF_NETLINK", "AF_UNSPEC"})
"""Families of addresses that lie inside this machine: files and the kernel itself."""
TIMEOUT_S = 300

_SENDING = frozenset({"connect", "sendto", "sendmsg", "sendmmsg"})
_MAKING = (
    *("?mkdir", "mkdirat", "?mknod", "mknodat", "?link", "linkat", "?symlink", "symlinkat"),
    *("?rename", "?renameat", "renameat2"),
)
_OPENING = ("?open", "openat", "?openat2", "?creat")
# What is asked for through a ring is seen by no tracer: to make one is a fault by itself.
_TRACED = ",".join(("%network", "?io_uring_setup", *_OPENING, *_MAKING))
_STRACE = ("strace", "-ff", "-y", "--seccomp-bpf", "-e", f"trace={_TRACED}", "-e", "signal=none")
_IN_NAMESPACE = """
for name in hosts resolv.conf nsswitch.conf; do
    [ ! -e "/etc/$name" ] || mount --bind "$1/$name" "/etc/$name" || exit 125
done
shift
exec "$@"
"""
_INSTEAD = {"hosts": "", "resolv.conf": f"nameserver {NAME_SERVER}\n", "nsswitch.conf": "hosts: files dns\n"}
_DONE = re.compile(r"\) += \d+(?:<([^>]*)>)?")
_PATH = re.compile(r'(?:(?:AT_FDCWD|\d+)<([^>]*)>, )?"((?:[^"\\]|\\.)*)"')
_OPEN_TO_WRITE = re.compile(r"\b(?:O_CREAT|O_WRONLY|O_RDWR|O_TMPFILE|__O_TMPFILE)\b")


@dataclass
class Watched:
    """What became of a command, and what its processes asked for.

    Attributes:
        code: Exit status.
        out: Standard output.
        err: Standard error.
        sent: Calls that reach for an address outside files and kernel.
        bound: Such addresses that were listened at.
        sockets: Families of such sockets.
        written: Files and folders that were made, or opened to be written.
    """

    code: int
    out: str
    err: str
    sent: list[str] = field(default_factory=list)
    bound: list[str] = field(default_factory=list)
    sockets: set[str] = field(default_factory=set)
    written: set[Path] = field(default_factory=set)

    def outside(self, folders: Sequence[Path]) -> list[str]:
        """What was written beside the folders; folders on the way to one of them are no fault."""
        return sorted(
            str(path)
            for path in self.written
            if not any(path.is_relative_to(folder) or folder.is_relative_to(path) for folder in folders)
            and not re.fullmatch(r"/dev/(null|tty|pts/.*|shm/sem\..*)", str(path))
        )


@cache
def why_not() -> str | None:
    """Why nothing can be watched here, or None where it can."""
    for program in ("strace", "unshare"):
        if shutil.which(program) is None:
            return f"{program} is not installed (apt-get install strace util-linux)"
    if _unshare() is None:
        return "no network namespace can be made here (unshare --net --mount was refused)"
    traced = subprocess.run([*_STRACE, "-o", "/dev/null", "true"], capture_output=True, text=True, check=False)
    if traced.returncode:
        return f"processes cannot be traced here ({traced.stderr.strip()})"
    return None


@cache
def _unshare() -> tuple[str, ...] | None:
    # Whoever is not root needs a namespace of users first, where the system allows that.
    for command in (("unshare", "--net", "--mount"), ("unshare", "--map-root-user", "--net", "--mount")):
        tried = subprocess.run([*command, "mount", "--bind", "/etc", "/etc"], capture_output=True, check=False)
        if tried.returncode == 0:
            return command
    return None


def watch(
    command: Sequence[str | Path],
    scratch: Path,
    cwd: Path,
    environment: dict[str, str],
    said: str = "",
    client: str = "",
) -> Watched:
    """Run a command in the namespace.

    Args:
        command: Program and arguments.
        scratch: New folder for what is noted.
        cwd: Where the command runs.
        environment: All of its environment.
        said: Its standard input.
        client: Python code beside it in the namespace, which is not watched: it gets the command as its arguments, and
            starts it.
    """
    scratch.mkdir()
    for name, text in _INSTEAD.items():
        (scratch / name).write_text(text)
    traces = scratch / "traces"
    traces.mkdir()
    beside = [sys.executable, "-c", client] if client else []
    unshare = _unshare()
    assert unshare is not None
    done = subprocess.run(
        [
            *(*unshare, "sh", "-c", _IN_NAMESPACE, "sh", scratch, *beside),
            *(*_STRACE, "-o", traces / "of", "--", *command),
        ],
        cwd=cwd,
        env=environment,
        input=said,
        capture_output=True,
        text=True,
        timeout=TIMEOUT_S,
        check=False,
    )
    found = Watched(done.returncode, done.stdout, done.stderr)
    files = list(traces.iterdir())
    assert files, done.stderr
    for file in files:
        for line in file.read_text(errors="replace").splitlines():
            _note(found, line, cwd)
    return found


def _note(found: Watched, line: str, cwd: Path) -> None:
    name, _, arguments = line.partition("(")
    strange = set(re.findall(r"sa_family=(AF_\w+)", arguments)) - LOCAL
    if name == "io_uring_setup" or (name in _SENDING and strange):
        found.sent.append(line)
    elif name == "bind" and strange:
        found.bound.append(line)
    elif name == "socket":
        found.sockets |= {arguments.partition(",")[0]} - LOCAL
    elif (done := _DONE.search(line)) is not None:
        if f"?{name}" in _OPENING or name in _OPENING:
            if name == "creat" or _OPEN_TO_WRITE.search(arguments):
                found.written.add(Path(done[1].removesuffix(" (deleted)")))
        elif f"?{name}" in _MAKING or name in _MAKING:
            # Of a call with two paths, the second is the one that is made.
            folder, path = _PATH.findall(arguments)[-1]
            found.written.add(Path(folder or cwd, path))
