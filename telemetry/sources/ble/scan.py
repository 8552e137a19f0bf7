"""Which BLE devices are in range, and the one that is meant."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import re
from dataclasses import dataclass

from bleak import BleakAdapter, BleakScanner
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData
from bleak.exc import BleakError

from telemetry.errors import LinkError
from telemetry.sources.ble.errors import NOT_ANSWERING, NOT_FOUND, translated
from telemetry.sources.ble.loop import BackgroundLoop, shared_loop

UART_SERVICE = "6e400001-b5a3-f393-e0a9-e50e24dcca9e"
"""UART over BLE: a chip vendor's published service, a de facto convention (not an assigned number)."""
UART_NOTIFY = "6e400003-b5a3-f393-e0a9-e50e24dcca9e"
UART_WRITE = "6e400002-b5a3-f393-e0a9-e50e24dcca9e"

_ADDRESS = re.compile(r"([0-9a-f]{2}:){5}[0-9a-f]{2}|[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.IGNORECASE)
"""Of Bluetooth; on macOS the system's own identifier."""
SERVICE_PATIENCE_S = 3.0
"""How long the system's Bluetooth may take to begin and end a search."""

# bleak's log lines (such as a bus that went away) are said by our own sentences; they must not land in a user's terminal.
logging.getLogger("bleak").addHandler(logging.NullHandler())


@dataclass(frozen=True, slots=True)
class BleDevice:
    """What a device said of itself. ``address`` is a Bluetooth address, on macOS the system's own identifier instead.

    ``rssi_dbm`` is its signal strength here (-50 strong, -90 weak), None where the system does not tell.
    """

    name: str
    address: str
    rssi_dbm: int | None
    services: tuple[str, ...]

    @property
    def talks_uart(self) -> bool:
        """It offers the UART-over-BLE service, so it may be a robot that prints the line stream."""
        return UART_SERVICE in self.services

    def is_called(self, wanted: str) -> bool:
        """Whether ``wanted`` is its name or address, case aside. A device may take any name: an address is never one."""
        if _ADDRESS.fullmatch(wanted):
            return self.address.lower() == wanted.lower()
        return wanted.lower() in {self.name.lower(), self.address.lower()}


@dataclass(frozen=True, slots=True)
class ScannedDevice:
    """A device as bleak wants it for connecting, beside what it said of itself."""

    device: BLEDevice
    about: BleDevice


def _about(device: BLEDevice, heard: AdvertisementData | None) -> BleDevice:
    name = (heard.local_name if heard is not None else None) or device.name or ""
    rssi = heard.rssi if heard is not None and heard.rssi > -127 else None  # -127: bleak's word for 'not told'
    services = tuple(sorted(uuid.lower() for uuid in heard.service_uuids)) if heard is not None else ()
    return BleDevice(name, device.address, rssi, services)


def scan(timeout_s: float = 5.0, loop: BackgroundLoop | None = None) -> list[BleDevice]:
    """Listen for ``timeout_s``; the devices heard, strongest first. LinkError when Bluetooth cannot be used."""
    return (loop or shared_loop()).run(_scan(timeout_s, (loop or shared_loop()).scan_lock))


async def _scan(timeout_s: float, lock: asyncio.Lock) -> list[BleDevice]:
    return sorted(
        (found.about for found in await _listen(timeout_s, lock, "")),
        key=lambda device: (-(device.rssi_dbm if device.rssi_dbm is not None else -128), device.name, device.address),
    )


async def _listen(timeout_s: float, lock: asyncio.Lock, where: str) -> list[ScannedDevice]:
    try:
        async with lock:
            async with asyncio.timeout(timeout_s + SERVICE_PATIENCE_S), BleakScanner() as scanner:
                await asyncio.sleep(timeout_s)
            return [ScannedDevice(device, _about(device, heard)) for device, heard in _heard(scanner)]
    except TimeoutError as error:
        raise LinkError(NOT_ANSWERING[0], where=where, todo=NOT_ANSWERING[1]) from error
    except (BleakError, OSError, EOFError) as error:
        raise translated(error, where) from error


def _heard(scanner: BleakScanner) -> list[tuple[BLEDevice, AdvertisementData]]:
    return list(scanner.discovered_devices_and_advertisement_data.values())


async def find(
    wanted: str, service: str, timeout_s: float, lock: asyncio.Lock, *, heard_only: bool = False
) -> ScannedDevice:
    """The device called ``wanted`` (name or address, case does not matter), as soon as it is heard.

    Empty: the only one in range that offers ``service``. LinkError if there is none, or more than one. ``heard_only``: not
    one that the system takes for connected; after a Bluetooth service died, what bleak remembers of it is wrong until then.
    """
    where = f"ble:{wanted}"
    if not wanted:
        return _only(await _listen(timeout_s, lock, where), service, where)
    heard: list[ScannedDevice] = []

    def fits(device: BLEDevice, advertisement: AdvertisementData) -> bool:
        about = _about(device, advertisement)
        if not about.is_called(wanted):
            return False
        heard.append(ScannedDevice(device, about))
        return True

    try:
        async with lock, asyncio.timeout(timeout_s + SERVICE_PATIENCE_S):
            already = None if heard_only else await _still_connected(wanted, service)
            if already is not None:
                return already
            async with BleakScanner() as scanner:
                with contextlib.suppress(TimeoutError):
                    async with asyncio.timeout(timeout_s), contextlib.aclosing(scanner.advertisement_data()) as news:
                        async for device, advertisement in news:
                            if fits(device, advertisement):
                                break
    except TimeoutError as error:
        raise LinkError(NOT_ANSWERING[0], where=where, todo=NOT_ANSWERING[1]) from error
    except (BleakError, OSError, EOFError) as error:
        raise translated(error, where) from error
    if not heard:
        raise LinkError(NOT_FOUND[0], where=where, todo=NOT_FOUND[1])
    return heard[0]


async def _still_connected(wanted: str, service: str) -> ScannedDevice | None:
    # A program that was killed leaves its robot connected: it then no longer announces itself, and no scan finds it.
    # What goes wrong here goes wrong in the scan that follows, which says it; not every system offers the question.
    with contextlib.suppress(BleakError, OSError, EOFError, NotImplementedError):
        adapter = await BleakAdapter.get()
        for device in await adapter.get_connected_devices([service]):
            about = _about(device, None)
            if about.is_called(wanted):
                return ScannedDevice(device, about)
    return None


def _only(everything: list[ScannedDevice], service: str, where: str) -> ScannedDevice:
    fitting = [found for found in everything if service in found.about.services]
    if len(fitting) == 1:
        return fitting[0]
    if not fitting:
        raise LinkError(NOT_FOUND[0], where=where, todo=NOT_FOUND[1])
    names = ", ".join(f"ble:{found.about.name or found.about.address}" for found in fitting)
    raise LinkError("several robots are in range", where=where, todo=f"Say which one: {names}")
