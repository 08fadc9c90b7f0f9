"""A PostgreSQL of our own on a socket in a temporary folder, for tests and benches; never as root, never on a network.

It keeps nothing after its end. `kill` ends it as a power cut would look to its clients, `start` brings it back.
"""

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from pathlib import Path

INSTALL = "sudo apt-get install -y --no-install-recommends postgresql"
_SERVERS = ("postgres", "nobody")
_SETTINGS = """
listen_addresses = ''
unix_socket_directories = '{socket}'
max_connections = 120
shared_buffers = 256MB
fsync = {fsync}
synchronous_commit = {fsync}
full_page_writes = {fsync}
log_destination = 'stderr'
logging_collector = off
lc_messages = 'C'
"""
_WHO_MAY = """
local all locked scram-sha-256
local all all trust
"""


def programs() -> Path | None:
    """The folder with PostgreSQL's programs, of the newest version that is installed; None where there is none."""
    found = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/initdb"),
        key=lambda path: int(path.parts[-3]) if path.parts[-3].isdigit() else 0,
    )
    if found:
        return found[-1].parent
    beside = shutil.which("initdb")
    return Path(beside).resolve().parent if beside is not None else None


def why_not() -> str | None:
    """Why no server can be started here, with what to do; None where one can."""
    if programs() is None:
        return f"PostgreSQL is not installed: {INSTALL}"
    if os.name == "posix" and os.geteuid() == 0 and (_user() is None or shutil.which("runuser") is None):
        return f"PostgreSQL never runs as root, and there is neither {' nor '.join(_SERVERS)} to run it as"
    return None


def _user() -> str | None:
    for name in _SERVERS:
        try:
            return pwd.getpwnam(name).pw_name
        except KeyError:
            continue
    return None


class PostgresServer:
    """A server with its data in a folder of its own.

    Args:
        place: Where that folder is made; the folder of temporary files where left out.
        durable: Whether it waits for the disk; without that a power cut would lose data, a kill does not.
    """

    def __init__(self, place: Path | None = None, *, durable: bool = False) -> None:
        bin_folder = programs()
        if bin_folder is None:
            raise RuntimeError(why_not())
        self._bin = bin_folder
        self._as = ["runuser", "-u", str(_user()), "--"] if os.geteuid() == 0 else []
        # The path of a socket has 107 bytes at most (unix(7)).
        self.folder = Path(tempfile.mkdtemp(prefix="hf-pg-", dir=place))
        if self._as:
            shutil.chown(self.folder, _user())
            self.folder.chmod(0o755)
        self.data = self.folder / "data"
        self._run("initdb", "-D", self.data, "-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")
        settings = _SETTINGS.format(socket=self.folder, fsync="on" if durable else "off")
        with (self.data / "postgresql.conf").open("a", encoding="utf-8") as file:
            file.write(settings)
        (self.data / "pg_hba.conf").write_text(_WHO_MAY, encoding="utf-8")
        self.start()

    @property
    def socket(self) -> Path:
        """The socket."""
        return self.folder / ".s.PGSQL.5432"

    def address(self, database: str, user: str = "postgres") -> str:
        """Address of a database for a role."""
        return f"postgresql://{user}@/{database}?host={self.folder}"

    def start(self) -> None:
        """Start it, also after a kill."""
        for _ in range(100):
            done = self._call("pg_ctl", "start", "-D", self.data, "-w", "-s", "-l", self.folder / "log")
            if done.returncode == 0:
                return
            time.sleep(0.2)  # the processes of a killed server are still ending
        raise RuntimeError((self.folder / "log").read_text(encoding="utf-8")[-2000:])

    def stop(self) -> None:
        """End it."""
        self._call("pg_ctl", "stop", "-D", self.data, "-m", "immediate", "-s")

    def kill(self) -> None:
        """End its first process by SIGKILL; the others end as soon as they notice."""
        pid = int((self.data / "postmaster.pid").read_text(encoding="ascii").split()[0])
        os.kill(pid, signal.SIGKILL)

    def remove(self) -> None:
        """End it and take its folder away."""
        self.stop()
        shutil.rmtree(self.folder, ignore_errors=True)

    def _run(self, program: str, *arguments: object) -> None:
        done = self._call(program, *arguments)
        if done.returncode:
            raise RuntimeError(f"{program}: {done.stderr.strip()}")

    def _call(self, program: str, *arguments: object) -> subprocess.CompletedProcess[str]:
        asked = [*self._as, str(self._bin / program), *map(str, arguments)]
        # The server outlives pg_ctl and would hold its pipes open: what it says goes to its log.
        with tempfile.TemporaryFile("w+", encoding="utf-8") as said:
            done = subprocess.run(asked, stdout=subprocess.DEVNULL, stderr=said, cwd="/", check=False)
            said.seek(0)
            return subprocess.CompletedProcess(asked, done.returncode, "", said.read())
