"""A serial port as a source: by name, by URL (socket://, rfc2217://, loop://), or a pseudo-terminal."""

from __future__ import annotations

import contextlib
import io
import os
import re
import select
import time
from collections.abc import Callable
from typing import Any

import serial
from serial.tools import list_ports

from telemetry.errors import LinkError
from telemetry.sources.link_change import LinkChange
from telemetry.sources.link_health import SerialHealth
from telemetry.sources.serial.errors import opening_failed, reading_failed
from telemetry.sources.serial.line_counts import LineCounts, line_counts
from telemetry.sources.source import EndOfStream

BLOCK_BYTES = 1 << 16
_SLICE_S = 0.05
_RETRY_S = 0.5
_PSEUDO_TERMINAL = re.compile(r"/dev/(pts/\d+|ttys\d+)$")


def listed_ports() -> list[tuple[str, str, int, int]]:
    """Device, description, USB vendor and product (0 where none) of each port; empty where the system cannot tell."""
    try:
        return [(port.device, port.description or "", port.vid or 0, port.pid or 0) for port in list_ports.comports()]
    except (OSError, ValueError, TypeError):
        return []


class SerialPort:
    """Reads from ``port``. ``dtr`` and ``rts`` None leaves these lines as they are, as far as the system allows.

    Many boards restart when a control line changes, so nothing is set unless asked. ``reconnect_s`` > 0: after the cable
    was pulled the port is sought for so long, and ``read`` raises LinkChange in between; 0: a LinkError at once.
    ``end_is_drop``: the far side of a socket that closes in good order is sought again too; else it ends the stream.
    """

    def __init__(
        self,
        port: str,
        baud: int = 115200,
        *,
        dtr: bool | None = None,
        rts: bool | None = None,
        reconnect_s: float = 0.0,
        end_is_drop: bool = False,
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self.port = port
        self.baud = baud
        self.dtr = dtr
        self.rts = rts
        self.reconnect_s = reconnect_s
        self.end_is_drop = end_is_drop
        self._clock = clock
        self._sleep = sleep
        self._serial: Any = None
        self._waits_on_descriptor = False
        self._dropped_at: float | None = None
        self._next_try = 0.0
        self._counted: LineCounts | None = None
        self._lost = LineCounts(0, 0)

    @property
    def where(self) -> str:
        return self.port

    def open(self) -> None:
        """Raises LinkError: no such port, in use, not allowed, rate not supported, nobody listens."""
        self.close()
        self._dropped_at = None
        self._lost = LineCounts(0, 0)
        self._open()

    def _open(self) -> None:
        try:
            # Time-out 0 where we can wait on the descriptor; else short ones, as changing it later configures the port anew.
            port = serial.serial_for_url(self.port, do_not_open=True, baudrate=self.baud, timeout=_SLICE_S)
            port.exclusive = True
            if self.dtr is None:
                port._update_dtr_state = _leave_alone
            else:
                port.dtr = self.dtr
            if self.rts is None:
                port._update_rts_state = _leave_alone
            else:
                port.rts = self.rts
            # What has arrived by now is part of the stream; a serial port calls the first of these, sockets the second.
            for name in ("_reset_input_buffer", "reset_input_buffer"):
                if hasattr(port, name):
                    setattr(port, name, _leave_alone)
            self._waits_on_descriptor = os.name == "posix" and type(port).fileno is not io.RawIOBase.fileno
            if self._waits_on_descriptor:
                port.timeout = 0
            port.open()
        except (serial.SerialException, OSError, ValueError, OverflowError, TypeError, AttributeError) as error:
            raise opening_failed(error, self.port, lambda: [device for device, *_ in listed_ports()], self.baud) from error
        self._serial = port
        self._counted = line_counts(port.fileno()) if self._waits_on_descriptor else None

    def health(self) -> SerialHealth | None:
        """What was lost or came damaged since ``open``, by the system's driver; None where it does not tell."""
        if self._counted is None:
            return None
        self._look()
        return SerialHealth(self._lost.overruns, self._lost.damaged)

    def _look(self) -> None:
        """Add what was counted since the last look; a port that comes back counts anew."""
        now = line_counts(self._serial.fileno()) if self._serial is not None else None
        if now is not None and self._counted is not None:
            new, before = now.since(self._counted), self._lost
            self._lost = LineCounts(before.overruns + new.overruns, before.damaged + new.damaged)
            self._counted = now

    def read(self, timeout_s: float) -> bytes:
        """What has arrived; waits for the first byte only. EndOfStream where the far side of a socket or pty closed."""
        if self._serial is None:
            if self._dropped_at is None:
                raise EndOfStream
            return self._seek(timeout_s)
        try:
            return self._wait_on_descriptor(timeout_s) if self._waits_on_descriptor else self._wait_in_slices(timeout_s)
        except (serial.SerialException, OSError, TypeError, ValueError) as error:
            # TypeError and ValueError: pyserial's way to say that its descriptor went away under it.
            closed = "socket disconnected" in str(error)
            if (closed and not (self.end_is_drop and self.reconnect_s > 0.0)) or _PSEUDO_TERMINAL.match(self.port):
                self.close()
                raise EndOfStream from error
            failed = reading_failed(error, self.port)
            self._let_go()
            if self.reconnect_s <= 0.0:
                raise failed from error
            self._dropped_at = self._clock()
            raise LinkChange("dropped", failed.what, where=self.port) from error

    def _wait_on_descriptor(self, timeout_s: float) -> bytes:
        ready, _, _ = select.select([self._serial.fileno()], [], [], max(0.0, timeout_s))
        return bytes(self._serial.read(BLOCK_BYTES)) if ready else b""

    def _wait_in_slices(self, timeout_s: float) -> bytes:
        until = self._clock() + timeout_s
        while True:
            data = bytes(self._serial.read(self._serial.in_waiting or 1))
            if data:
                more = self._serial.in_waiting
                return data + bytes(self._serial.read(more)) if more else data
            if self._clock() >= until:
                return b""

    def _seek(self, timeout_s: float) -> bytes:
        """Look for the port that went away; ``b""`` while it stays away."""
        dropped = self._dropped_at if self._dropped_at is not None else self._clock()
        until = self._clock() + timeout_s
        while True:
            now = self._clock()
            if now >= self._next_try:
                self._next_try = now + _RETRY_S
                try:
                    self._open()
                except LinkError as error:
                    if now - dropped >= self.reconnect_s:
                        self._dropped_at = None
                        raise error from None
                else:
                    self._dropped_at = None
                    raise LinkChange("back", "the robot is there again", where=self.port, away_s=now - dropped)
            if now >= until:
                return b""
            self._sleep(min(_SLICE_S, max(0.0, until - now)))

    def _let_go(self) -> None:
        port, self._serial = self._serial, None
        if port is not None:
            with contextlib.suppress(serial.SerialException, OSError, TypeError):  # gone is all that was wanted
                port.close()

    def close(self) -> None:
        self._dropped_at = None
        self._let_go()


def _leave_alone() -> None:
    """In place of pyserial's own steps at the opening."""
