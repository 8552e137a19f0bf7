"""What bleak and the system's Bluetooth raise, as one sentence that says what to do.

Written for bleak 3.1: which exception comes in which state was measured on Linux; the reasons that only Windows and
macOS give are taken from bleak's documentation.
"""

from __future__ import annotations

import asyncio

from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakCharacteristicNotFoundError,
    BleakDBusError,
    BleakDeviceNotFoundError,
    BleakError,
    BleakGATTProtocolError,
)

from telemetry.errors import LinkError

CABLE = "or use the cable"
NO_SERVICE = (
    "the computer's Bluetooth service is not running",
    f"Start it (on Linux: sudo systemctl start bluetooth), {CABLE}",
)
NO_PERMISSION = (
    "this user may not use Bluetooth",
    f"Allow it in the system's privacy settings (on Linux: sudo usermod -aG bluetooth $USER, then log in again), {CABLE}",
)
SWITCHED_OFF = (
    "Bluetooth is switched off",
    f"Switch it on in the system's settings (on Linux: bluetoothctl power on), {CABLE}",
)
NO_ADAPTER = ("this computer has no Bluetooth adapter that can be used", f"Plug one in, {CABLE}")
NO_LOW_ENERGY = (
    "this Bluetooth adapter is too old for Bluetooth Low Energy",
    f"Plug in one with Bluetooth 4.0 or newer, {CABLE}",
)
ANOTHER_SCAN = ("another program is searching for Bluetooth devices", "Close its search and try again")
NOT_FOUND = (
    "no such robot in range",
    "Switch it on, bring it near, and see that no other program or tablet is connected to it; "
    "'sidelong ports' lists what is in range",
)
FORGOTTEN = ("the system has forgotten this robot since it was found", "Try again")
NOT_ANSWERING = (
    "the computer's Bluetooth does not answer",
    f"Switch Bluetooth off and on (on Linux: sudo systemctl restart bluetooth), {CABLE}",
)
TIMED_OUT = ("the robot was found but does not answer", "Bring it nearer, switch it off and on, and try again")
DROPPED = ("the link dropped", "Bring the robot nearer and see that it is on")
REFUSED = (
    "the connection was refused",
    "See that no other program or tablet is connected to the robot, switch it off and on, and try again",
)

_REASONS = {
    BleakBluetoothNotAvailableReason.NO_BLUETOOTH: NO_ADAPTER,
    BleakBluetoothNotAvailableReason.NO_BLE_CENTRAL_ROLE: NO_LOW_ENERGY,
    BleakBluetoothNotAvailableReason.POWERED_OFF: SWITCHED_OFF,
    BleakBluetoothNotAvailableReason.DENIED_BY_USER: NO_PERMISSION,
    BleakBluetoothNotAvailableReason.DENIED_BY_SYSTEM: NO_PERMISSION,
    BleakBluetoothNotAvailableReason.DENIED_BY_UNKNOWN: NO_PERMISSION,
}
_BUS_ERRORS = {
    "org.freedesktop.DBus.Error.ServiceUnknown": NO_SERVICE,
    "org.freedesktop.DBus.Error.NameHasNoOwner": NO_SERVICE,
    "org.freedesktop.DBus.Error.NoReply": NO_SERVICE,
    "org.freedesktop.DBus.Error.Spawn.ExecFailed": NO_SERVICE,
    "org.freedesktop.DBus.Error.AccessDenied": NO_PERMISSION,
    "org.bluez.Error.NotAuthorized": NO_PERMISSION,
    "org.bluez.Error.NotReady": SWITCHED_OFF,
    "org.bluez.Error.InProgress": ANOTHER_SCAN,
    "org.freedesktop.DBus.Error.UnknownObject": FORGOTTEN,
    "org.bluez.Error.Failed": REFUSED,
}


def no_such_service(where: str, service: str, has: tuple[str, ...], option: str) -> LinkError:
    """The device is connected but does not offer what was asked for; ``has``: what it offers, ``option``: asks for it."""
    known = f"It offers {', '.join(has)}" if has else "It offers none at all"
    todo = f"{known}; give the right one with {option}"
    return LinkError(f"the robot is there but has no service {service}", where=where, todo=todo)


def _sentence(error: BaseException) -> tuple[str, str] | None:
    if isinstance(error, BleakBluetoothNotAvailableError):
        return _REASONS.get(error.reason)
    if isinstance(error, BleakDeviceNotFoundError):
        return NOT_FOUND
    if isinstance(error, BleakDBusError):
        return _BUS_ERRORS.get(error.dbus_error)
    if isinstance(error, PermissionError):
        return NO_PERMISSION
    if isinstance(error, TimeoutError | asyncio.TimeoutError):
        return TIMED_OUT
    if isinstance(error, OSError | EOFError):  # no socket, a stale socket, a bus that went away
        return NO_SERVICE
    if isinstance(error, BleakCharacteristicNotFoundError | BleakGATTProtocolError):
        return None
    text = str(error.args[0]) if error.args else ""
    if isinstance(error, BleakError):
        if "device 'dev_" in text and "not found" in text:
            return FORGOTTEN
        if "Service Discovery has not been performed" in text or "device disconnected" in text or text == "Not connected":
            return DROPPED
    return None


def translated(error: BaseException, where: str) -> LinkError:
    """The LinkError for anything that bleak, the message bus or the time limit raised about the device ``where``."""
    if isinstance(error, LinkError):
        return error
    found = _sentence(error)
    if found is None:
        # str() of some of bleak's errors is a tuple: the first argument is the text.
        words = next((str(arg) for arg in error.args if isinstance(arg, str)), type(error).__name__)
        found = (f"Bluetooth reports: {words.rstrip('.')}", f"Try again, {CABLE}")
    return LinkError(found[0], where=where, todo=found[1])
