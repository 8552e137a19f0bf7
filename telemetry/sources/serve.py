"""The other end of a link: serving a stream so that a capture reads it as it would a real robot's."""

from __future__ import annotations

import socket
import sys
import time
from collections.abc import Callable
from typing import BinaryIO, Protocol

from telemetry.errors import LinkError, MissingPartError, UsageError
from telemetry.sources.source import EndOfStream, Source

_LISTENER_S = 0.05
_LAST_WORDS_S = 2.0


class Outlet(Protocol):
    """Where a served stream goes."""

    @property
    def name(self) -> str:
        """What a capture opens; empty where there is nothing to open."""

    def wait(self, timeout_s: float) -> bool:
        """Whether somebody listens, within ``timeout_s``."""

    def send(self, data: bytes) -> bool:
        """Hand ``data`` over; False when the listener has left."""

    def close(self) -> None:
        """Let what was sent be read, then end."""


class StandardOutput:
    """Lines on stdout; the listener is whoever reads the pipe."""

    def __init__(self, out: BinaryIO | None = None) -> None:
        self._out = out or sys.stdout.buffer
        self.name = ""

    def wait(self, timeout_s: float) -> bool:  # noqa: ARG002 - somebody always listens
        return True

    def send(self, data: bytes) -> bool:
        self._out.write(data)
        self._out.flush()
        return True

    def close(self) -> None:
        self._out.flush()


class TcpPort:
    """A TCP port on this machine, for one listener. Port 0: any free one."""

    def __init__(self, port: int = 0) -> None:
        todo = "Choose another, or leave it out: tcp takes any free port."
        if not 0 <= port <= 65535:
            raise LinkError("TCP ports end at 65535", where=f"tcp:{port}", todo=todo)
        try:
            self._server = socket.create_server(("127.0.0.1", port))
        except OSError as error:
            raise LinkError("this TCP port cannot be used", where=f"tcp:{port}", todo=todo) from error
        self.name = f"socket://127.0.0.1:{self._server.getsockname()[1]}"
        self._listener: socket.socket | None = None

    def wait(self, timeout_s: float) -> bool:
        if self._listener is None:
            self._server.settimeout(timeout_s)
            try:
                self._listener, _ = self._server.accept()
            except TimeoutError:
                return False
            self._listener.settimeout(None)
            self._listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        return True

    def send(self, data: bytes) -> bool:
        if self._listener is None:
            return False
        try:
            self._listener.sendall(data)
        except OSError:
            return False
        return True

    def close(self) -> None:
        if self._listener is not None:
            try:
                self._listener.shutdown(socket.SHUT_WR)
                self._listener.settimeout(_LAST_WORDS_S)
                while self._listener.recv(4096):
                    pass
            except OSError:
                pass  # the listener has left or stays silent: either way everything was handed over
            self._listener.close()
            self._listener = None
        self._server.close()


def open_outlet(link: str) -> Outlet:
    """``pty``, ``tcp``, ``tcp:PORT`` or ``stdout``. Raises UsageError, MissingPartError, LinkError."""
    kind, _, rest = link.partition(":")
    if kind == "stdout" and not rest:
        return StandardOutput()
    if kind == "pty" and not rest:
        try:
            from telemetry.sources.pseudo_terminal import PseudoTerminal
        except ImportError as error:
            raise MissingPartError("this system has no pseudo-terminals", todo="Use --link tcp.") from error
        return PseudoTerminal()
    if kind == "tcp" and (not rest or rest.isdecimal()):
        return TcpPort(int(rest or 0))
    raise UsageError(f"there is no link '{link}'", todo="The links are pty, tcp, tcp:PORT and stdout.")


def serve(source: Source, outlet: Outlet, sleep: Callable[[float], None] = time.sleep) -> int:
    """Wait for a listener, then hand everything of ``source`` over; returns the bytes sent. Closes both."""
    sent = 0
    try:
        while not outlet.wait(0.2):
            pass
        if outlet.name:
            sleep(_LISTENER_S)  # it has opened the link, but may still be setting it up
        source.open()
        while True:
            data = source.read(0.1)
            if data and not outlet.send(data):
                break
            sent += len(data)
            if not data and not outlet.wait(0.0):
                break
    except EndOfStream:
        pass
    finally:
        source.close()
        outlet.close()
    return sent
