"""A private bus for all BLE tests, a fresh Bluetooth service for each, and a look at the threads afterwards."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest

from telemetry.sources.ble.loop import stop_shared_loop

from .fake_bluez import FakeBluez, FakeRobot
from .private_bus import PrivateBus


@pytest.fixture(scope="session")
def bus() -> Iterator[PrivateBus]:
    private = PrivateBus()
    yield private
    private.stop()


@pytest.fixture(autouse=True)
def only_the_private_bus(bus: PrivateBus, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """No test may touch the machine's own Bluetooth, and none may leave a thread behind."""
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
    yield
    stop_shared_loop()
    left = [thread.name for thread in threading.enumerate() if "ble" in thread.name or "bluez" in thread.name]
    assert left == []


@pytest.fixture
def bluetooth(bus: PrivateBus) -> Iterator[FakeBluez]:
    service = FakeBluez(bus.address)
    yield service
    stop_shared_loop()
    service.stop()


@pytest.fixture
def robot(bluetooth: FakeBluez) -> FakeRobot:
    return bluetooth.add(FakeRobot())
