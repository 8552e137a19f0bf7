"""Holding a BLE link: connect, subscribe, notice that it broke, come back. Runs on the BLE loop only.

Unlike a cable, a radio link breaks in the middle of a run and is there again a moment later. And a Bluetooth service that
dies without a word leaves everything looking connected: only the silence tells, so silence is looked into.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import sys
from collections.abc import Callable
from dataclasses import dataclass

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.exc import BleakDBusError, BleakError

from telemetry.errors import LinkError
from telemetry.safe_text import printable
from telemetry.sources.ble.errors import DROPPED, NO_SERVICE, no_such_service, translated
from telemetry.sources.ble.health import HealthMeter
from telemetry.sources.ble.scan import UART_NOTIFY, UART_SERVICE, UART_WRITE, ScannedDevice, find
from telemetry.sources.link_change import LinkChange

LOG = logging.getLogger(__name__)
LOG.addHandler(logging.NullHandler())
GOODBYE_S = 3.0
PAUSES_S = (0.1, 0.2, 0.5, 1.0, 2.0)
"""Between attempts to come back; the last one repeats."""


@dataclass(frozen=True, slots=True)
class BleWish:
    """Which robot, which service, and how patiently. UUIDs in any case; ``wanted`` is a name or an address, or empty."""

    wanted: str = ""
    service: str = UART_SERVICE
    notify: str = UART_NOTIFY
    write: str = UART_WRITE
    greeting: str | None = None
    """One line of text, sent at each connecting to robots that wait to be asked."""
    scan_timeout_s: float = 8.0
    connect_timeout_s: float = 10.0
    write_timeout_s: float = 2.0
    silence_s: float = 2.0
    """After so much silence the link is examined, in at most ``probe_timeout_s``."""
    probe_timeout_s: float = 0.8
    give_up_s: float = 60.0
    """How long to try to come back after a drop; 0: not at all."""
    own_pipe: bool = False
    """Linux: take the notifications through a pipe of their own instead of the message bus (some robots dislike it)."""

    @property
    def where(self) -> str:
        return f"ble:{self.wanted}"


class BleLink:
    """One robot. What comes is handed to ``put`` in order: bytes, LinkChange, and at the end a LinkError if it is lost."""

    def __init__(
        self, wish: BleWish, put: Callable[[bytes | LinkError], None], meter: HealthMeter, lock: asyncio.Lock
    ) -> None:
        self._wish, self._put, self._meter, self._scan_lock = wish, put, meter, lock
        self._where = wish.where
        self._found: ScannedDevice | None = None
        self._client: BleakClient | None = None
        self._notify: BleakGATTCharacteristic | None = None
        self._write: BleakGATTCharacteristic | None = None
        self._broken = asyncio.Event()
        self._last_data_s = 0.0
        self._away_since_s: float | None = None
        self._keeping: asyncio.Task[None] | None = None

    @staticmethod
    def _now_s() -> float:
        return asyncio.get_running_loop().time()

    async def connect(self) -> ScannedDevice:
        """Find the robot and connect; LinkError with one sentence if that fails."""
        self._meter.became("connecting")
        wish = self._wish
        try:
            found = self._found = await find(wish.wanted, wish.service.lower(), wish.scan_timeout_s, self._scan_lock)
            self._where = f"ble:{found.about.name or found.about.address}"
            await self._attempt(found)
        except LinkError as error:
            self._log(logging.WARNING, f"could not be connected: {error.what}")
            raise
        rssi_dbm = found.about.rssi_dbm
        heard = "" if rssi_dbm is None else f", heard with {rssi_dbm} dBm"
        self._log(logging.INFO, f"connected, ATT MTU {self._mtu_bytes()} bytes{heard}")
        return found

    def _log(self, level: int, words: str) -> None:
        """Into the log, so that what happened in the hall can be looked up at home; a name may be anybody's text."""
        LOG.log(level, "%s: %s", printable(self._where), printable(words))

    async def _attempt(self, found: ScannedDevice) -> None:
        # An event of its own for each attempt: a late word from an old connection must not break the new one.
        broken = self._broken = asyncio.Event()
        patience_s = self._wish.connect_timeout_s
        client = BleakClient(found.device, disconnected_callback=lambda _: broken.set(), timeout=patience_s)
        try:
            # bleak's own limit comes first; when the service hangs, its tidying up after that hangs too.
            async with asyncio.timeout(patience_s + 1.0):
                await client.connect()
                self._notify, self._write = self._characteristics(client)
                self._client = client
                self._last_data_s = self._now_s()
                self._meter.connected(self._mtu_bytes(), found.about.rssi_dbm)
                pipe = {"use_start_notify": not self._wish.own_pipe}
                await client.start_notify(self._notify, self._arrived, bluez=pipe)  # type: ignore[arg-type]
            if self._wish.greeting is not None:
                await self.send_line(self._wish.greeting)
        except BaseException as error:
            await self._goodbye(client)
            if isinstance(error, BleakError | OSError | EOFError | LinkError):
                raise translated(error, self._where) from error
            raise

    def _characteristics(self, client: BleakClient) -> tuple[BleakGATTCharacteristic, BleakGATTCharacteristic | None]:
        service = client.services.get_service(self._wish.service.lower())
        if service is None:
            has = tuple(sorted(offered.uuid for offered in client.services))
            raise no_such_service(self._where, self._wish.service, has, "--ble-service")
        notify = service.get_characteristic(self._wish.notify.lower())
        if notify is None or not {"notify", "indicate"} & set(notify.properties):
            has = tuple(c.uuid for c in service.characteristics if {"notify", "indicate"} & set(c.properties))
            asked = f"{self._wish.service} with notifications on {self._wish.notify}"
            raise no_such_service(self._where, asked, has, "--ble-notify")
        return notify, service.get_characteristic(self._wish.write.lower())

    def _mtu_bytes(self) -> int | None:
        # bleak's mtu_size is a constant on Linux; the size of a write without response is the negotiated MTU less three.
        characteristic = self._write or self._notify
        return None if characteristic is None else characteristic.max_write_without_response_size + 3

    def _arrived(self, _: BleakGATTCharacteristic, data: bytearray) -> None:
        self._last_data_s = self._now_s()
        self._meter.arrived(len(data))
        self._announce_back()
        self._put(bytes(data))

    def _announce_back(self) -> None:
        if self._away_since_s is None:
            return
        away_s = self._now_s() - self._away_since_s
        self._away_since_s = None
        self._meter.back(away_s)
        self._log(logging.INFO, f"back after {away_s:.1f} s")
        self._put(LinkChange("back", f"the link is back after {away_s:.1f} s", where=self._where, away_s=away_s))

    async def send_line(self, text: str) -> None:
        """Send one line of text, cut to what the link carries; LinkError if the robot does not take it in time."""
        client, write = self._client, self._write
        if client is None:
            raise LinkError(DROPPED[0], where=self._where, todo=DROPPED[1])
        if write is None:
            asked = f"{self._wish.service} that can be written to on {self._wish.write}"
            raise no_such_service(self._where, asked, (), "--ble-write")
        data = f"{text}\n".encode()
        size = write.max_write_without_response_size
        try:
            async with asyncio.timeout(self._wish.write_timeout_s):
                for at in range(0, len(data), size):
                    await client.write_gatt_char(write, data[at : at + size], response="write" in write.properties)
        except TimeoutError as error:
            todo = "Switch the robot off and on and try again"
            raise LinkError("the robot does not take what is sent to it", where=self._where, todo=todo) from error
        except (BleakError, OSError, EOFError) as error:
            raise translated(error, self._where) from error

    def keep(self) -> None:
        """From now on watch the link and bring it back after each drop, until ``close`` or until it is lost for good."""
        self._keeping = asyncio.get_running_loop().create_task(self._keep())

    async def _keep(self) -> None:
        while True:
            why = await self._until_broken()
            if self._wish.give_up_s <= 0.0:
                self._meter.dropped()
                await self._goodbye(self._client)
                self._lost(why, DROPPED[1])
                return
            await self._drop(why)
            if not await self._come_back():
                return

    def _lost(self, what: str, todo: str) -> None:
        self._meter.became("lost")
        self._log(logging.ERROR, f"lost: {what}")
        self._put(LinkError(what, where=self._where, todo=todo))

    async def _drop(self, why: str) -> None:
        if self._away_since_s is None:
            self._away_since_s = self._now_s()
            self._meter.dropped()
            self._log(logging.WARNING, f"dropped: {why}")
            self._put(LinkChange("dropped", why, where=self._where))
        await self._goodbye(self._client)

    async def _come_back(self) -> bool:
        assert self._found is not None
        deadline_s = self._now_s() + self._wish.give_up_s
        for attempt in range(sys.maxsize):
            self._meter.became("reconnecting")
            try:
                await self._attempt(self._found)
            except LinkError as error:
                if self._away_since_s is None:  # bytes had come already, then it broke again
                    await self._drop(DROPPED[0])
                if self._now_s() >= deadline_s:
                    waited = f"the link dropped and did not come back within {self._wish.give_up_s:g} s"
                    self._lost(f"{waited} ({error.what})", error.todo)
                    return False
                await asyncio.sleep(PAUSES_S[min(attempt, len(PAUSES_S) - 1)])
                with contextlib.suppress(LinkError):  # the system may have forgotten the robot: look for it anew
                    seek_s = min(self._wish.scan_timeout_s, max(0.1, deadline_s - self._now_s()))
                    address = self._found.about.address
                    self._found = await find(address, self._wish.service.lower(), seek_s, self._scan_lock, heard_only=True)
            else:
                self._announce_back()
                return True
        raise AssertionError

    async def _until_broken(self) -> str:
        looked_s = self._now_s()
        while True:
            quiet_since_s = max(self._last_data_s, looked_s)
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(max(0.01, quiet_since_s + self._wish.silence_s - self._now_s())):
                    await self._broken.wait()
            if self._broken.is_set():
                return DROPPED[0]
            if self._now_s() - max(self._last_data_s, looked_s) < self._wish.silence_s:
                continue
            self._meter.became("silent")
            if not await self._answers():
                return f"{NO_SERVICE[0]}, or the robot no longer answers"
            looked_s = self._now_s()

    async def _answers(self) -> bool:
        """Whether the other side still knows our connection, when nothing comes.

        On Linux only: there a dead service sends no word. It is asked to read a characteristic that cannot be read; any
        answer will do, 'not permitted' included. (One that can be read would put its value among the notifications.)
        """
        client = self._client
        silent = [c for c in (self._notify, self._write) if c is not None and "read" not in c.properties]
        if not sys.platform.startswith("linux") or client is None or not silent:
            return True
        try:
            async with asyncio.timeout(self._wish.probe_timeout_s):
                await client.read_gatt_char(silent[0])
        except BleakDBusError as error:
            return not error.dbus_error.startswith("org.freedesktop.DBus.Error.")
        except (OSError, EOFError):  # a time-out or a bus that went away
            return False
        except BleakError:
            return client.is_connected
        return True

    async def _goodbye(self, client: BleakClient | None) -> None:
        # Also after a drop: only this gives the system's resources back.
        if client is None:
            return
        if client is self._client:
            self._client = None
        with contextlib.suppress(BleakError, OSError, EOFError):
            async with asyncio.timeout(GOODBYE_S):
                await client.disconnect()

    async def close(self) -> None:
        """Stop watching and say goodbye to the robot."""
        if self._keeping is not None:
            self._keeping.cancel()
            await asyncio.wait({self._keeping})
        client = self._client
        if client is not None and self._notify is not None and client.is_connected:
            with contextlib.suppress(BleakError, OSError, EOFError):
                async with asyncio.timeout(GOODBYE_S):
                    await client.stop_notify(self._notify)
        await self._goodbye(client)
        self._log(logging.INFO, "closed")
        self._meter.became("closed")
