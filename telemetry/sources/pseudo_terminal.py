"""A pseudo-terminal as the robot's end of a cable. POSIX only; elsewhere this module cannot be imported."""

from __future__ import annotations

import array
import fcntl
import os
import select
import termios
import time
import tty

_LAST_WORDS_S = 2.0
_STEP_S = 0.01
_QUIET_S = 0.15  # the system hands bytes over in its own time: none waiting at one moment does not mean none on the way


class PseudoTerminal:
    """``name`` is what a capture opens, like a serial port. Nothing is echoed, no byte is changed."""

    def __init__(self) -> None:
        self._ours, theirs = os.openpty()
        tty.setraw(theirs)
        self.name = os.ttyname(theirs)
        os.close(theirs)  # from now on our end says 'hung up' until somebody opens the other
        os.set_blocking(self._ours, False)

    def wait(self, timeout_s: float) -> bool:
        until = time.monotonic() + timeout_s
        while not self._listened():
            if time.monotonic() >= until:
                return False
            time.sleep(_STEP_S)
        return True

    def _listened(self) -> bool:
        poll = select.poll()
        poll.register(self._ours, select.POLLIN | select.POLLHUP)
        for _, what in poll.poll(0):
            if what & select.POLLHUP:
                return False
            if what & select.POLLIN:
                try:
                    return bool(os.read(self._ours, 4096))  # what the listener says is taken and left aside
                except BlockingIOError:
                    return True
                except OSError:
                    return False
        return True

    def send(self, data: bytes) -> bool:
        while data:
            try:
                data = data[os.write(self._ours, data) :]
            except BlockingIOError:
                if not self._listened():
                    return False
                select.select([], [self._ours], [], 0.1)
            except OSError:
                return False
        return True

    def close(self) -> None:
        """Closing throws away what the listener has not yet read, so wait until it has, or has left."""
        if self._ours < 0:
            return
        until = time.monotonic() + _LAST_WORDS_S
        quiet_since = time.monotonic()
        while time.monotonic() < until and self._listened():
            if self._unread():
                quiet_since = time.monotonic()
            elif time.monotonic() - quiet_since >= _QUIET_S:
                break
            time.sleep(_STEP_S)
        os.close(self._ours)
        self._ours = -1

    def _unread(self) -> int:
        """Bytes that wait at the other end."""
        if not self._listened():
            return 0
        try:
            theirs = os.open(self.name, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
        except OSError:
            return 0
        try:
            count = array.array("i", [0])
            fcntl.ioctl(theirs, termios.FIONREAD, count)
        except OSError:
            return 0
        finally:
            os.close(theirs)
        return count[0]
