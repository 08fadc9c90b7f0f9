"""A network that is cut where the test says so: what goes to a server on a socket passes through here."""

import contextlib
import socket
import threading


class CutNetwork:
    """Listens on loopback and passes bytes on to a server; cuts every connection once so many have gone to it.

    Args:
        server: Socket of the server.
    """

    def __init__(self, server):
        self.server = str(server)
        self.cut_after = None
        self.passed = 0
        self._lock = threading.Lock()
        self._open = []
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def address(self, database, user):
        return f"postgresql://{user}@127.0.0.1:{self.port}/{database}?sslmode=disable&gssencmode=disable"

    def cut_next(self, after):
        with self._lock:
            self.cut_after, self.passed = after, 0

    def mend(self):
        with self._lock:
            self.cut_after = None

    def close(self):
        self._listener.close()
        self._cut()

    def _accept(self):
        with contextlib.suppress(OSError):
            while True:
                client, _ = self._listener.accept()
                server = socket.socket(socket.AF_UNIX)
                server.connect(self.server)
                self._open += [client, server]
                threading.Thread(target=self._pass, args=(client, server, True), daemon=True).start()
                threading.Thread(target=self._pass, args=(server, client, False), daemon=True).start()

    def _pass(self, source, target, counted):
        with contextlib.suppress(OSError):
            while piece := source.recv(4096):
                if counted and self._is_cut(len(piece)):
                    self._cut()
                    return
                target.sendall(piece)
        for end in (source, target):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)

    def _is_cut(self, size):
        with self._lock:
            self.passed += size
            return self.cut_after is not None and self.passed > self.cut_after

    def _cut(self):
        for end in self._open:
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
                end.close()
        self._open.clear()
