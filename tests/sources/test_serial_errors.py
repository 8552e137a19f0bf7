"""Every way a port fails becomes one sentence that says what to do."""

from __future__ import annotations

import errno

import pytest
import serial

from telemetry.errors import EXIT_LINK, LinkError
from telemetry.sources.serial import errors as reasons
from telemetry.sources.serial.errors import opening_failed, reading_failed
from telemetry.sources.serial.port import SerialPort

PORT = "/dev/ttyUSB7"
LISTED = ["/dev/ttyUSB0", "/dev/ttyACM0"]

# What pyserial 3.5 raises, from its source (serialposix.py, serialwin32.py, protocol_socket.py), and what was met on Linux.
OPENING = [
    (serial.SerialException(errno.ENOENT, "no port"), "linux", reasons.NO_SUCH_PORT, "/dev/ttyUSB0, /dev/ttyACM0"),
    (serial.SerialException(errno.ENXIO, "could not open port"), "linux", reasons.NO_SUCH_PORT, "There are"),
    (serial.SerialException("could not open port 'COM3': FileNotFoundError(2, 'nicht gefunden', None, 2)"), "win32",
     reasons.NO_SUCH_PORT, "There are"),
    (serial.SerialException(errno.EACCES, "could not open port"), "linux", reasons.NOT_IN_GROUP[0], "dialout"),
    (serial.SerialException(errno.EACCES, "could not open port"), "darwin", reasons.NOT_ALLOWED[0], "right to use it"),
    (serial.SerialException("could not open port 'COM3': PermissionError(13, 'Zugriff verweigert', None, 5)"), "win32",
     reasons.IN_USE[0], "Close it there"),
    (serial.SerialException(errno.EBUSY, "could not open port"), "darwin", reasons.IN_USE[0], "Close it there"),
    (serial.SerialException(errno.EAGAIN, "Could not exclusively lock port x: [Errno 11] unavailable"), "linux",
     reasons.IN_USE[0], "Close it there"),
    (serial.SerialException("Could not configure port: (25, 'Inappropriate ioctl for device')"), "linux",
     reasons.NO_SERIAL_PORT[0], "Check the name"),
    (serial.SerialException(errno.EISDIR, "could not open port"), "linux", reasons.NO_SERIAL_PORT[0], "Check the name"),
    (serial.SerialException(errno.EIO, "could not open port"), "linux", reasons.SILENT[0], "plug it in again"),
    (ValueError("Invalid baud rate: 12345"), "linux", "does not do 12345 baud", "115200"),
    (ValueError("Failed to set custom baud rate (12345): [Errno 22]"), "linux", "does not do 12345 baud", "115200"),
    (OverflowError("signed integer is greater than maximum"), "linux", "does not do 12345 baud", "115200"),
    (serial.SerialException("something new"), "linux", "cannot be opened (something new)", "sidelong ports"),
]  # fmt: skip
ADDRESSES = [
    (serial.SerialException("Could not open port x: [Errno 111] Connection refused"), reasons.NOBODY_LISTENS),
    (serial.SerialException("Could not open port x: [WinError 10061] actively refused"), reasons.NOBODY_LISTENS),
    (serial.SerialException("Could not open port x: [Errno 113] No route to host"), reasons.UNREACHABLE),
    (serial.SerialException("Could not open port x: [Errno -2] Name or service not known"), reasons.NO_SUCH_MACHINE),
    (serial.SerialException("Could not open port x: [Errno 11001] getaddrinfo failed"), reasons.NO_SUCH_MACHINE),
    (serial.SerialException("Could not open port x: timed out"), reasons.NO_ANSWER),
    (OSError(errno.ETIMEDOUT, "?"), reasons.NO_ANSWER),
    (ValueError("invalid URL, protocol 'foo' not known"), reasons.BAD_ADDRESS),
]  # fmt: skip
READING = [
    (serial.SerialException("device reports readiness to read but returned no data (multiple access on port?)"),
     PORT, reasons.TWO_READERS[0]),
    (serial.SerialException("read failed: [Errno 5] Input/output error"), PORT, reasons.UNPLUGGED[0]),
    (OSError(errno.ENXIO, "Device not configured"), PORT, reasons.UNPLUGGED[0]),
    (serial.SerialException("ClearCommError failed (PermissionError(13, 'x', None, 22))"), "COM3", reasons.UNPLUGGED[0]),
    (TypeError("'NoneType' object cannot be interpreted as an integer"), PORT, reasons.UNPLUGGED[0]),
    (serial.SerialException("socket disconnected"), "socket://robot:2217", "the robot closed the connection"),
    (serial.SerialException("socket disconnected"), "rfc2217://robot:2217", reasons.BROKE_OFF[0]),
    (OSError(errno.EMFILE, "too many"), PORT, "cannot be read on"),
]  # fmt: skip


@pytest.mark.parametrize(("error", "platform", "what", "todo"), OPENING)
def test_opening(error: Exception, platform: str, what: str, todo: str) -> None:
    told = opening_failed(error, PORT, lambda: LISTED, 12345, platform=platform)
    assert what in told.what
    assert todo in told.todo
    assert told.where == PORT
    assert told.exit_code == EXIT_LINK


def test_no_port_at_all() -> None:
    told = opening_failed(serial.SerialException(errno.ENOENT, "x"), PORT, list, 115200)
    assert told.todo == reasons.NO_PORT_AT_ALL


@pytest.mark.parametrize(("error", "reason"), ADDRESSES)
def test_addresses(error: Exception, reason: tuple[str, str]) -> None:
    told = opening_failed(error, "socket://robot:2217", lambda: LISTED, 115200)
    assert (told.what, told.todo) == reason


@pytest.mark.parametrize(("error", "where", "what"), READING)
def test_reading(error: Exception, where: str, what: str) -> None:
    told = reading_failed(error, where)
    assert what in told.what
    assert told.todo


def test_every_reason_is_met_by_a_case() -> None:
    named = [value for name, value in vars(reasons).items() if name.isupper() and name[0] != "_"]
    every = {value[0] if isinstance(value, tuple) else value for value in named}
    told = [opening_failed(error, PORT, list, 1, platform=platform) for error, platform, *_ in OPENING]
    told += [opening_failed(error, "socket://a:1", list, 1) for error, _ in ADDRESSES]
    told += [reading_failed(error, where) for error, where, _ in READING]
    assert every <= {one.what for one in told} | {one.todo for one in told}
    assert all("\n" not in str(one) and one.todo for one in told)


@pytest.mark.parametrize(
    "port",
    [
        "/dev/no-such-port",
        "/etc/hostname",
        "",
        "socket://127.0.0.1:1",
        "socket://x",
        "foo://x",
        "loop\0",
        "socket://127.0.0.1:99999",
    ],
)
def test_what_cannot_be_opened_here(port: str) -> None:
    with pytest.raises(LinkError) as caught:
        SerialPort(port).open()
    assert caught.value.todo


@pytest.mark.parametrize("baud", [-5, 10**12])
def test_impossible_rates(baud: int) -> None:
    with pytest.raises(LinkError, match=f"does not do {baud} baud"):
        SerialPort("loop://", baud).open()


def test_an_address_without_its_scheme_is_answered_with_it() -> None:
    error = opening_failed(FileNotFoundError(errno.ENOENT, "no such file"), "tcp:127.0.0.1:2217", lambda: LISTED, 115200)
    assert "Did you mean 'socket://127.0.0.1:2217'?" in str(error)
