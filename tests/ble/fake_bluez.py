"""A BlueZ of the tests' own on a private bus: adapter, robots, both ways of notifying, many ways to fail.

Written after BlueZ's published D-Bus descriptions (doc/org.bluez.*.rst in the bluez repository) and after what unmodified
bleak asks of it. It plays the service's side only: radio, pairing and connection intervals are not in it.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import socket
import threading
from collections.abc import Callable, Coroutine, Iterable
from dataclasses import dataclass, field
from typing import Any, TypeVar

from dbus_fast import Message, MessageFlag, MessageType, NameFlag, Variant
from dbus_fast.aio import MessageBus

ADAPTER, DEVICE = "org.bluez.Adapter1", "org.bluez.Device1"
SERVICE, CHARACTERISTIC = "org.bluez.GattService1", "org.bluez.GattCharacteristic1"
HCI = "/org/bluez/hci0"
UART = "6e400001-b5a3-f393-e0a9-e50e24dcca9e"
UART_WRITE, UART_NOTIFY = UART.replace("6e400001", "6e400002"), UART.replace("6e400001", "6e400003")
UNKNOWN_OBJECT = "org.freedesktop.DBus.Error.UnknownObject"
T = TypeVar("T")


@dataclass(eq=False)
class FakeRobot:
    """One device in range. ``mtu`` is what the two sides negotiated; a notification carries mtu - 3 bytes."""

    name: str | None = "Robot 1"
    address: str = "C0:FF:EE:00:00:01"
    rssi_dbm: int = -57
    mtu: int = 23
    service: str = UART
    notify: str = UART_NOTIFY
    write: str | None = UART_WRITE
    acquirable: bool = False
    in_range: bool = True
    hangs: bool = False
    """Connect gets no answer."""
    refuses: int = 0
    """So many calls of Connect fail, as with a radio disturbed."""
    busy: bool = False
    """Writes are answered 'in progress', for ever."""
    forgotten: bool = False
    """The service forgets the device when the scan ends."""
    speaks_first: bytes = b""
    """Notified at once on subscribing, before the subscription is confirmed."""
    on_write: Callable[[bytes], None] = lambda _: None
    received: list[bytes] = field(default_factory=list)
    connects: int = 0
    connected: bool = False
    subscribed: bool = False
    pipe: socket.socket | None = None

    @property
    def path(self) -> str:
        return f"{HCI}/dev_{self.address.replace(':', '_')}"

    @property
    def notify_path(self) -> str:
        return f"{self.path}/service000a/char000b"

    def objects(self) -> dict[str, dict[str, dict[str, Variant]]]:
        """The service and its characteristics, as they appear once the device is connected."""
        service = f"{self.path}/service000a"
        common = {"Service": Variant("o", service), "MTU": Variant("q", self.mtu)}
        notify = {
            "UUID": Variant("s", self.notify),
            "Flags": Variant("as", ["notify"]),
            "Notifying": Variant("b", False),
        } | common
        if self.acquirable:
            notify["NotifyAcquired"] = Variant("b", False)
        objects = {
            service: {
                SERVICE: {
                    "UUID": Variant("s", self.service),
                    "Device": Variant("o", self.path),
                    "Primary": Variant("b", True),
                }
            },
            self.notify_path: {CHARACTERISTIC: notify},
        }
        if self.write is not None:
            flags = Variant("as", ["write", "write-without-response"])
            objects[f"{service}/char000e"] = {CHARACTERISTIC: {"UUID": Variant("s", self.write), "Flags": flags} | common}
        return objects


class FakeBluez:
    """Runs in a thread of its own; every public method may be called from the test's thread."""

    def __init__(
        self, bus_address: str, *, adapter: bool = True, powered: bool = True, roles: tuple[str, ...] = ("central",)
    ) -> None:
        self._address = bus_address
        self.robots: list[FakeRobot] = []
        self.scanning: set[str] = set()
        self.calls: list[str] = []
        self.deaf = False
        """The service hangs: calls get no answer and no signal is sent."""
        self.search_busy = False
        """Another program's search stands in the way."""
        self.mute_disconnect = False
        """Disconnect is answered but not done, as if it had never been asked."""
        self._table: dict[str, dict[str, dict[str, Variant]]] = {}
        if adapter:
            props = {
                "Address": Variant("s", "00:00:00:00:00:00"),
                "Powered": Variant("b", powered),
                "Roles": Variant("as", list(roles)),
            }
            self._table[HCI] = {ADAPTER: props}
        self._bus: MessageBus | None = None
        self._tasks: set[asyncio.Task[None]] = set()
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, name="fake-bluez", daemon=True)
        self._thread.start()
        self._do(self._start())

    # ---- what a test does to it ----

    def add(self, robot: FakeRobot) -> FakeRobot:
        """Bring a robot into range; a scan that is running sees it at once."""
        self.robots.append(robot)
        return robot

    def send(self, robot: FakeRobot, chunks: Iterable[bytes], interval_s: float = 0.0) -> None:
        """Notify each chunk, as fast as it goes or one every ``interval_s``; returns when all are on the bus."""
        self._do(self._send(robot, list(chunks), interval_s), timeout_s=60)

    def drop(self, robot: FakeRobot) -> None:
        """The radio link breaks; the service says so."""
        self._do(self._drop(robot))

    def forget(self, robot: FakeRobot) -> None:
        """The service no longer knows the device."""
        self._do(self._forget(robot))

    def die(self) -> None:
        """The service ends without a word about its devices, as after a crash; the radio link ends with it."""
        self._do(self._leave())

    def come_back(self) -> None:
        """A service that died is started again and knows nothing of before."""
        for path in [path for path in self._table if path != HCI]:
            del self._table[path]
        self._do(self._start())

    def stop(self) -> None:
        """End for good; may be called after die()."""
        if self._loop.is_closed():
            return
        self._do(self._leave())
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(5)
        self._loop.close()

    # ---- inside its thread ----

    def _do(self, work: Coroutine[Any, Any, T], timeout_s: float = 10.0) -> T:
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(timeout_s)

    async def _start(self) -> None:
        self._bus = await MessageBus(bus_address=self._address, negotiate_unix_fd=True).connect()
        self._bus.add_message_handler(self._handle)
        await self._bus.request_name("org.bluez", NameFlag.DO_NOT_QUEUE)

    async def _leave(self) -> None:
        for robot in self.robots:
            self._unplug(robot)
        if self._bus is not None:
            self._bus.disconnect()
            with contextlib.suppress(Exception):
                await self._bus.wait_for_disconnect()  # type: ignore[no-untyped-call]
            self._bus = None
        self.scanning.clear()
        await asyncio.gather(*(self._tasks - {asyncio.current_task()}), return_exceptions=True)

    @staticmethod
    def _unplug(robot: FakeRobot) -> None:
        robot.connected = robot.subscribed = False
        if robot.pipe is not None:
            robot.pipe.close()
            robot.pipe = None

    def _emit(self, path: str, interface: str, member: str, signature: str, body: list[Any]) -> None:
        if self._bus is not None and not self.deaf:
            self._bus.send(Message.new_signal(path, interface, member, signature, body))

    def _change(self, path: str, interface: str, **changed: Variant) -> None:
        self._table[path][interface].update(changed)
        self._emit(path, "org.freedesktop.DBus.Properties", "PropertiesChanged", "sa{sv}as", [interface, changed, []])

    def _publish(self, path: str, interfaces: dict[str, dict[str, Variant]]) -> None:
        self._table[path] = interfaces
        self._emit("/", "org.freedesktop.DBus.ObjectManager", "InterfacesAdded", "oa{sa{sv}}", [path, interfaces])

    def _withdraw(self, path: str) -> None:
        interfaces = list(self._table.pop(path))
        self._emit("/", "org.freedesktop.DBus.ObjectManager", "InterfacesRemoved", "oas", [path, interfaces])

    def _keep(self, work: Coroutine[Any, Any, None]) -> None:
        task = self._loop.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _announce(self, sender: str) -> None:
        while sender in self.scanning:  # devices announce themselves again and again, real ones every 20 to 1000 ms
            for robot in self.robots:
                self._advertise(robot)
            await asyncio.sleep(0.02)

    def _advertise(self, robot: FakeRobot) -> None:
        if not robot.in_range or robot.connected:
            return
        if robot.path in self._table:
            self._change(robot.path, DEVICE, RSSI=Variant("n", robot.rssi_dbm))
            return
        alias = robot.name or robot.address.replace(":", "-")
        props = {
            "Address": Variant("s", robot.address), "Alias": Variant("s", alias), "Adapter": Variant("o", HCI),
            "Connected": Variant("b", False), "ServicesResolved": Variant("b", False), "Paired": Variant("b", False),
            "UUIDs": Variant("as", [robot.service]), "RSSI": Variant("n", robot.rssi_dbm),
        }  # fmt: skip
        if robot.name:
            props["Name"] = Variant("s", robot.name)
        self._publish(robot.path, {DEVICE: props})

    async def _send(self, robot: FakeRobot, chunks: list[bytes], interval_s: float) -> None:
        start = self._loop.time()
        for number, chunk in enumerate(chunks):
            if interval_s:
                await asyncio.sleep(max(0.0, start + number * interval_s - self._loop.time()))
            if robot.pipe is not None:
                await self._loop.sock_sendall(robot.pipe, chunk)
            elif robot.subscribed:
                self._change(robot.notify_path, CHARACTERISTIC, Value=Variant("ay", chunk))
                if number % 100 == 99:
                    await self._flush()  # dbus-fast gives up its connection after some 300 unsent messages

    async def _flush(self) -> None:
        if self._bus is not None:
            name = "org.freedesktop.DBus"
            await self._bus.call(
                Message(destination=name, path="/org/freedesktop/DBus", interface=f"{name}.Peer", member="Ping")
            )

    async def _drop(self, robot: FakeRobot) -> None:
        self._unplug(robot)
        for path in robot.objects():
            if path in self._table:
                self._withdraw(path)
        if robot.path in self._table:
            self._change(robot.path, DEVICE, Connected=Variant("b", False), ServicesResolved=Variant("b", False))
        await self._flush()

    async def _forget(self, robot: FakeRobot) -> None:
        if robot.path in self._table:
            self._withdraw(robot.path)
        await self._flush()

    def _handle(self, call: Message) -> bool:
        if call.message_type is not MessageType.METHOD_CALL or call.interface == "org.freedesktop.DBus.Peer":
            return False
        self.calls.append(str(call.member))
        if not self.deaf:
            robot = next((r for r in self.robots if call.path is not None and call.path.startswith(r.path)), None)
            self._keep(self._answer(call, robot))
        return True

    async def _answer(self, call: Message, robot: FakeRobot | None) -> None:
        method = getattr(self, f"_on_{call.member}", None)
        if method is None or (call.path != "/" and call.path not in self._table):
            reply: Message | None = Message.new_error(call, UNKNOWN_OBJECT, f"no such thing: {call.path} {call.member}")
        else:
            reply = await method(call, robot)
        if reply is not None and self._bus is not None and not call.flags & MessageFlag.NO_REPLY_EXPECTED:
            await self._bus.send(reply)
            for fd in reply.unix_fds:
                os.close(fd)

    async def _on_GetManagedObjects(self, call: Message, _: None) -> Message:  # noqa: N802
        return Message.new_method_return(call, "a{oa{sa{sv}}}", [self._table])

    async def _on_SetDiscoveryFilter(self, call: Message, _: None) -> Message:  # noqa: N802
        return Message.new_method_return(call)

    async def _on_StartDiscovery(self, call: Message, _: None) -> Message | None:  # noqa: N802
        if call.sender in self.scanning or self.search_busy:
            return Message.new_error(call, "org.bluez.Error.InProgress", "Operation already in progress")
        if not self._table[HCI][ADAPTER]["Powered"].value:
            return Message.new_error(call, "org.bluez.Error.NotReady", "Resource Not Ready")
        self.scanning.add(str(call.sender))
        assert self._bus is not None
        await self._bus.send(Message.new_method_return(call))
        self._keep(self._announce(str(call.sender)))
        return None

    async def _on_StopDiscovery(self, call: Message, _: None) -> Message:  # noqa: N802
        self.scanning.discard(str(call.sender))
        for robot in self.robots:
            if robot.forgotten:
                await self._forget(robot)
        return Message.new_method_return(call)

    async def _on_Connect(self, call: Message, robot: FakeRobot) -> Message | None:  # noqa: N802
        robot.connects += 1
        if robot.hangs or not robot.in_range:
            return None
        if robot.refuses > 0:
            robot.refuses -= 1
            return Message.new_error(call, "org.bluez.Error.Failed", "le-connection-abort-by-remote")
        robot.connected = True
        self._change(robot.path, DEVICE, Connected=Variant("b", True))
        assert self._bus is not None
        await self._bus.send(Message.new_method_return(call))
        for path, interfaces in robot.objects().items():
            self._publish(path, interfaces)
        self._change(robot.path, DEVICE, ServicesResolved=Variant("b", True))
        return None

    async def _on_Disconnect(self, call: Message, robot: FakeRobot) -> Message:  # noqa: N802
        if not self.mute_disconnect:
            await self._drop(robot)
        return Message.new_method_return(call)

    async def _on_StartNotify(self, call: Message, robot: FakeRobot) -> Message:  # noqa: N802
        robot.subscribed = True
        if robot.speaks_first:
            self._change(robot.notify_path, CHARACTERISTIC, Value=Variant("ay", robot.speaks_first))
        return Message.new_method_return(call)

    async def _on_StopNotify(self, call: Message, robot: FakeRobot) -> Message:  # noqa: N802
        robot.subscribed = False
        return Message.new_method_return(call)

    async def _on_AcquireNotify(self, call: Message, robot: FakeRobot) -> Message:  # noqa: N802
        robot.pipe, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        robot.pipe.setblocking(False)
        return Message.new_method_return(call, "hq", [0, robot.mtu], [theirs.detach()])

    async def _on_ReadValue(self, call: Message, robot: FakeRobot) -> Message:  # noqa: N802
        return Message.new_error(call, "org.bluez.Error.NotPermitted", "Read not permitted")

    async def _on_WriteValue(self, call: Message, robot: FakeRobot) -> Message:  # noqa: N802
        if robot.busy:
            return Message.new_error(call, "org.bluez.Error.InProgress", "Operation already in progress")
        robot.received.append(bytes(call.body[0]))
        self._loop.run_in_executor(None, robot.on_write, bytes(call.body[0]))
        return Message.new_method_return(call)
