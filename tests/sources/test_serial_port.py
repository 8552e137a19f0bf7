"""The serial source on pseudo-terminals, sockets and pyserial's own loop."""

from __future__ import annotations

import contextlib
import os
import socket
import threading
from collections.abc import Iterator
from typing import Any

import pytest
import serial
import serial.rfc2217

from telemetry.errors import LinkError
from telemetry.sources.link_change import LinkChange
from telemetry.sources.serial.port import SerialPort, listed_ports
from telemetry.sources.source import EndOfStream

pty = pytest.importorskip("pty", reason="pseudo-terminals are POSIX")
tty = pytest.importorskip("tty", reason="pseudo-terminals are POSIX")


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        self.now += 0.01
        return self.now

    def sleep(self, seconds: float) -> None:
        self.now += seconds


@pytest.fixture
def cable() -> Iterator[tuple[int, str]]:
    """(our end, the name of the other)."""
    ours, theirs = pty.openpty()
    tty.setraw(theirs)
    name = os.ttyname(theirs)
    os.close(theirs)
    yield ours, name
    with contextlib.suppress(OSError):
        os.close(ours)


def everything(port: SerialPort, size: int) -> bytes:
    data = b""
    while len(data) < size:
        data += port.read(1.0)
    return data


def test_reads_what_came_before_and_after_the_opening(cable: tuple[int, str]) -> None:
    ours, name = cable
    keep = os.open(name, os.O_RDWR | os.O_NOCTTY)
    os.write(ours, b"before\n")
    port = SerialPort(name)
    port.open()
    os.write(ours, b"after\x00\xff\r\n")
    assert everything(port, 15) == b"before\nafter\x00\xff\r\n"
    assert port.read(0.0) == b""
    port.close()
    port.close()
    os.close(keep)


def test_a_second_reader_is_told_that_the_port_is_in_use(cable: tuple[int, str]) -> None:
    first, second = SerialPort(cable[1]), SerialPort(cable[1])
    first.open()
    with pytest.raises(LinkError, match="another program has this port open"):
        second.open()
    first.close()
    second.open()
    second.close()


def test_a_pseudo_terminal_whose_far_side_closed_is_at_its_end(cable: tuple[int, str]) -> None:
    port = SerialPort(cable[1])
    port.open()
    os.close(cable[0])
    with pytest.raises(EndOfStream):
        port.read(5.0)
    with pytest.raises(EndOfStream):
        port.read(5.0)


def test_a_socket_is_read_in_large_pieces_to_its_end() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = SerialPort(f"socket://127.0.0.1:{server.getsockname()[1]}")
        port.open()
        peer, _ = server.accept()
        sent = os.urandom(300_000)

        def send() -> None:
            peer.sendall(sent)
            peer.close()

        sender = threading.Thread(target=send)
        sender.start()
        pieces = []
        with contextlib.suppress(EndOfStream):
            while True:
                pieces.append(port.read(5.0))
        sender.join()
        port.close()
    assert b"".join(pieces) == sent
    assert len(pieces) < 300  # not byte by byte


def test_loop_without_a_descriptor() -> None:
    port = SerialPort("loop://", clock=Clock())
    port.open()
    assert port.read(0.05) == b""
    port._serial.write(b"hello\n")
    assert everything(port, 6) == b"hello\n"
    port.close()


@pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")  # in pyserial 3.5
def test_a_port_of_another_computer_by_rfc2217() -> None:
    """pyserial's own server side plays the other computer; its port is a loop."""
    remote = serial.serial_for_url("loop://", timeout=0.01)
    asked: list[bytes] = []
    with socket.create_server(("127.0.0.1", 0)) as server:

        def serve() -> None:
            peer, _ = server.accept()

            class Peer:
                def write(self, data: bytes) -> None:
                    peer.sendall(data)

            with peer:
                manager = serial.rfc2217.PortManager(remote, Peer())
                peer.settimeout(0.01)
                while True:
                    try:
                        data = peer.recv(1024)
                    except TimeoutError:
                        waiting = remote.read(remote.in_waiting)
                        if waiting:
                            peer.sendall(b"".join(manager.escape(waiting)))
                        continue
                    if not data:
                        return
                    asked.append(data)
                    b"".join(manager.filter(data))

        thread = threading.Thread(target=serve)
        thread.start()
        port = SerialPort(f"rfc2217://127.0.0.1:{server.getsockname()[1]}", 9600)
        port.open()
        assert remote.baudrate == 9600
        remote.write(b"17,\xff\x00\r\n")
        assert everything(port, 7) == b"17,\xff\x00\r\n"
        port.close()
        thread.join()
    # RFC 2217, SET-CONTROL (5): 8 and 9 would set DTR, 11 and 12 RTS.
    assert not any(b"\xff\xfa,\x05" + bytes([value]) in b"".join(asked) for value in (8, 9, 11, 12))


class Lines(serial.Serial):  # type: ignore[misc]
    """Notes when a control line is set."""

    touched: list[str]

    def _update_dtr_state(self) -> None:
        self.touched.append(f"dtr {self._dtr_state}")

    def _update_rts_state(self) -> None:
        self.touched.append(f"rts {self._rts_state}")


@pytest.mark.parametrize(
    ("wish", "touched"),
    [
        ({}, []),
        ({"dtr": False}, ["dtr False"]),
        ({"dtr": True, "rts": False}, ["dtr True", "rts False"]),
        ({"rts": True}, ["rts True"]),
    ],
)
def test_control_lines_are_set_only_if_asked(
    cable: tuple[int, str], monkeypatch: pytest.MonkeyPatch, wish: dict[str, bool], touched: list[str]
) -> None:
    def made(url: str, do_not_open: bool, **settings: Any) -> serial.Serial:
        port = Lines(**settings)
        port.touched = []
        port.port = url
        return port

    monkeypatch.setattr(serial, "serial_for_url", made)
    port = SerialPort(cable[1], **wish)  # type: ignore[arg-type]
    port.open()
    assert port._serial.touched == touched
    port.close()


class Flaky:
    """Stands in for pyserial's port: gives what is scripted, raising what is an exception."""

    def __init__(self, script: list[bytes | Exception], opens: list[Exception | None]) -> None:
        self.script, self.opens = script, opens
        self.in_waiting = 0

    fileno = serial.serialutil.io.RawIOBase.fileno

    def open(self) -> None:
        error = self.opens.pop(0)
        if error is not None:
            raise error

    def read(self, size: int) -> bytes:
        piece = self.script.pop(0)
        if isinstance(piece, Exception):
            raise piece
        return piece

    def close(self) -> None:
        raise serial.SerialException("gone")


GONE = serial.SerialException("read failed: [Errno 5] Input/output error")


def flaky(
    monkeypatch: pytest.MonkeyPatch, opens: list[Exception | None], *script: bytes | Exception, reconnect_s: float
) -> SerialPort:
    device = Flaky(list(script), opens)
    monkeypatch.setattr(serial, "serial_for_url", lambda *args, **kwargs: device)
    clock = Clock()
    port = SerialPort("/dev/ttyUSB0", reconnect_s=reconnect_s, clock=clock, sleep=clock.sleep)
    port.open()
    return port


def test_unplugged_while_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    port = flaky(monkeypatch, [None], b"17,10", GONE, reconnect_s=0.0)
    assert port.read(0.1) == b"17,10"
    with pytest.raises(LinkError, match=r"unplugged.*Check the cable") as caught:
        port.read(0.1)
    assert not isinstance(caught.value, LinkChange)
    port.close()


def test_plugged_in_again(monkeypatch: pytest.MonkeyPatch) -> None:
    absent = FileNotFoundError(2, "No such file")
    port = flaky(monkeypatch, [None, absent, absent, None], b"1,", GONE, b"2,", reconnect_s=60.0)
    assert port.read(0.1) == b"1,"
    with pytest.raises(LinkChange) as dropped:
        port.read(0.1)
    changes: list[LinkChange] = []
    while not changes:
        try:
            assert port.read(0.0) == b""
        except LinkChange as change:
            changes.append(change)
    assert (dropped.value.kind, changes[0].kind) == ("dropped", "back")
    assert changes[0].away_s > 0.5
    assert port.read(0.1) == b"2,"


def test_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    absent = FileNotFoundError(2, "No such file")
    port = flaky(monkeypatch, [None, *[absent] * 100], GONE, reconnect_s=3.0)
    with pytest.raises(LinkChange):
        port.read(0.1)
    with pytest.raises(LinkError, match="port not found"):
        everything(port, 1)
    with pytest.raises(EndOfStream):
        port.read(0.1)


def test_ports_that_cannot_be_listed_are_none(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken() -> list[object]:
        raise OSError("no /sys here")

    monkeypatch.setattr("telemetry.sources.serial.port.list_ports.comports", broken)
    assert listed_ports() == []


def test_a_socket_that_closes_in_good_order_is_a_drop_where_that_was_asked() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        clock = Clock()
        address = f"socket://127.0.0.1:{server.getsockname()[1]}"
        port = SerialPort(address, reconnect_s=60.0, end_is_drop=True, clock=clock, sleep=clock.sleep)
        port.open()
        first, _ = server.accept()
        first.sendall(b"1,")
        first.close()
        assert everything(port, 2) == b"1,"
        with pytest.raises(LinkChange, match="the robot closed the connection"):
            port.read(1.0)
        with pytest.raises(LinkChange) as back:
            everything(port, 1)
        assert back.value.kind == "back"
        second, _ = server.accept()
        second.sendall(b"2,")
        assert everything(port, 2) == b"2,"
        second.close()
        port.close()


def test_a_socket_that_closes_in_good_order_has_ended_where_nothing_was_asked() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = SerialPort(f"socket://127.0.0.1:{server.getsockname()[1]}", reconnect_s=60.0)
        port.open()
        server.accept()[0].close()
        with pytest.raises(EndOfStream):
            everything(port, 1)
