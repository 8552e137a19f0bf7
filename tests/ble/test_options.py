"""The BLE words of a command line."""

from __future__ import annotations

import argparse

import pytest

from telemetry.errors import UsageError
from telemetry.sources.ble import UART_NOTIFY, UART_SERVICE, UART_WRITE, BleWish
from telemetry.sources.ble_options import ble_arguments, ble_source


def wish(address: str, *words: str) -> BleWish:
    parser = argparse.ArgumentParser()
    ble_arguments(parser)
    return ble_source(address, parser.parse_args(words))._wish


def test_the_uart_service_is_the_default() -> None:
    plain = wish("ble:Robot 1")
    assert (plain.wanted, plain.service, plain.notify, plain.write) == ("Robot 1", UART_SERVICE, UART_NOTIFY, UART_WRITE)
    assert plain.greeting is None
    assert wish("ble:").wanted == ""
    assert wish("ble:C0:FF:EE:00:00:01").wanted == "C0:FF:EE:00:00:01"


@pytest.mark.parametrize(
    "text", ["180d", "0x180D", "0000180D-0000-1000-8000-00805F9B34FB", "0000180d00001000800000805f9b34fb"]
)
def test_uuids_in_any_writing(text: str) -> None:
    # Bluetooth SIG, Assigned Numbers: 0x180D; Core Specification, Vol 3, Part B, 2.5.1: the base it stands on.
    assert wish("ble:x", "--ble-service", text).service == "0000180d-0000-1000-8000-00805f9b34fb"


@pytest.mark.parametrize("text", ["", "uart", "12345", "zzzz", "-1-1", "0000180d-0000-1000-8000"])
def test_what_is_no_uuid(text: str) -> None:
    if not text:
        assert wish("ble:x", "--ble-notify", "").notify == UART_NOTIFY
        return
    with pytest.raises(UsageError, match=r"^--ble-notify: '.*' is no UUID. Write it like"):
        wish("ble:x", f"--ble-notify={text}")


@pytest.mark.parametrize("seconds", ["0", "121", "nan"])
def test_a_time_out_of_range(seconds: str) -> None:
    with pytest.raises(UsageError, match="--ble-timeout"):
        wish("ble:x", "--ble-timeout", seconds)
