"""What pyserial and the system say when a port fails, as one sentence each that says what to do."""

from __future__ import annotations

import errno
import sys
from collections.abc import Callable, Sequence

from telemetry.errors import LinkError

IN_USE = ("another program has this port open", "Close it there (a terminal, an editor), then try again.")
NOT_ALLOWED = ("you are not allowed to use this port", "Give your user the right to use it.")
NOT_IN_GROUP = (
    "you are not allowed to use this port",
    "Join the group that owns it, e.g. 'sudo usermod -a -G dialout $USER', then log out and in again.",
)
NO_SUCH_PORT = "port not found"
NO_PORT_AT_ALL = "No serial port is there: plug the robot in, and switch it on."
NO_SERIAL_PORT = ("this is not a serial port, or it refuses its settings", "Check the name and the baud rate.")
SILENT = ("the port is there but does not answer", "Unplug the robot and plug it in again.")
NOBODY_LISTENS = ("nobody listens there", "Start the robot's side first, and check the port number.")
UNREACHABLE = ("that machine cannot be reached", "Check that both are in the same network.")
NO_SUCH_MACHINE = ("there is no machine of that name", "Check its name, or give its address in numbers.")
NO_ANSWER = ("no answer from there", "Check the address, and that it is switched on.")
BAD_ADDRESS = ("this address is not written right", "Write it like socket://192.168.4.1:2217.")
CLOSED = ("the robot closed the connection", "Start the robot's program again.")
BROKE_OFF = ("the connection broke off", "Check the network, then connect again.")
UNPLUGGED = ("the robot was unplugged, or switched off", "Check the cable and the robot's battery, then connect again.")
TWO_READERS = (
    "the robot was unplugged, or another program reads this port too",
    "Check the cable and the robot's battery, and close that program.",
)

_ABSENT = {errno.ENOENT, errno.ENODEV, errno.ENXIO}
_TAKEN = {errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK}
_GONE = {errno.EIO, errno.ENXIO, errno.ENODEV, errno.ENOENT, errno.EBADF, errno.EACCES, errno.EPERM}
_URL_NUMBERS = {
    errno.ECONNREFUSED: NOBODY_LISTENS,
    errno.EHOSTUNREACH: UNREACHABLE,
    errno.ENETUNREACH: UNREACHABLE,
    errno.ETIMEDOUT: NO_ANSWER,
}
_URL_WORDS = (
    (("refused",), NOBODY_LISTENS),
    (("unreachable", "no route"), UNREACHABLE),
    (("name or service", "getaddrinfo", "nodename", "name resolution", "no address associated"), NO_SUCH_MACHINE),
    (("timed out", "timeout"), NO_ANSWER),
    (("expected a string", "debug|info", "invalid url", "not in range", "unknown option", "not supported"), BAD_ADDRESS),
)
# pyserial on Windows writes: could not open port 'COM3': FileNotFoundError(2, '...', None, 2)
_NUMBERS_IN_TEXT = {
    "FileNotFoundError(": errno.ENOENT,
    "Errno 2]": errno.ENOENT,
    "PermissionError(": errno.EACCES,
    "Errno 13]": errno.EACCES,
}


def _number(error: BaseException) -> int | None:
    """The system's error number, also where pyserial wrapped it or only wrote it into its text."""
    seen: BaseException | None = error
    while seen is not None:
        number = getattr(seen, "errno", None)
        if isinstance(number, int):
            return number
        if seen.args and isinstance(seen.args[0], int):  # termios.error keeps its number there
            return seen.args[0]
        seen = seen.__context__ or seen.__cause__
    return next((number for words, number in _NUMBERS_IN_TEXT.items() if words in str(error)), None)


def _told(reason: tuple[str, str], where: str) -> LinkError:
    return LinkError(reason[0], where=where, todo=reason[1])


def opening_failed(
    error: BaseException, where: str, ports: Callable[[], Sequence[str]], baud: int, *, platform: str = sys.platform
) -> LinkError:
    """Why ``where`` could not be opened. ``ports`` lists those there are, and is asked only where it helps."""
    number, text = _number(error), str(error)
    low = text.lower()
    if "baud" in low or isinstance(error, OverflowError):
        todo = "Use the rate of the robot's program; 115200 is common."
        return LinkError(f"the port does not do {baud} baud", where=where, todo=todo)
    if "://" in where:
        by_words = next((reason for words, reason in _URL_WORDS if any(word in low for word in words)), None)
        reason = by_words or _URL_NUMBERS.get(number or 0)
        return _told(reason or (f"the address cannot be opened ({text})", "Check it, and the network."), where)
    if "exclusively lock" in low or number in _TAKEN or (platform == "win32" and number == errno.EACCES):
        return _told(IN_USE, where)
    if number in {errno.EACCES, errno.EPERM}:
        return _told(NOT_IN_GROUP if platform.startswith("linux") else NOT_ALLOWED, where)
    if number in _ABSENT:
        if where.startswith("tcp:"):
            return LinkError(NO_SUCH_PORT, where=where, todo=f"Did you mean 'socket://{where[4:].lstrip('/')}'?")
        there = ", ".join(ports())
        return LinkError(NO_SUCH_PORT, where=where, todo=f"There are: {there}." if there else NO_PORT_AT_ALL)
    if number in {errno.EINVAL, errno.ENOTTY, errno.EISDIR} or "configure port" in low:
        return _told(NO_SERIAL_PORT, where)
    if number == errno.EIO:
        return _told(SILENT, where)
    return LinkError(f"the port cannot be opened ({text})", where=where, todo="Check the cable and 'sidelong ports'.")


def reading_failed(error: BaseException, where: str) -> LinkError:
    """Why reading broke off."""
    number, text = _number(error), str(error)
    if "://" in where:
        return _told(CLOSED if where.startswith("socket:") and "socket disconnected" in text else BROKE_OFF, where)
    if "multiple access" in text:
        return _told(TWO_READERS, where)
    if number in _GONE or number is None:
        return _told(UNPLUGGED, where)
    return LinkError(f"the port cannot be read on ({text})", where=where, todo="Check the cable, then connect again.")
