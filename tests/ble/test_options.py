"""The BLE words of a command line, and the source they lead to."""

from __future__ import annotations

import argparse

import pytest

from telemetry.errors import UsageError
from telemetry.sources import open_source
from telemetry.sources.ble.options import ble_arguments, ble_options
from telemetry.sources.ble.source import UART_NOTIFY, UART_SERVICE, UART_WRITE, BleSource, BleWish

HEART_RATE = "0000180d-0000-1000-8000-00805f9b34fb"


def options(*words: str) -> dict[str, object]:
    parser = argparse.ArgumentParser()
    ble_arguments(parser)
    return ble_options(parser.parse_args(words))


def wish(spec: str, **told: object) -> BleWish:
    source = open_source(spec, **told)
    assert isinstance(source, BleSource)
    return source._wish


def test_the_uart_service_is_the_default() -> None:
    assert options() == {}
    plain = wish("ble:Robot 1", baud=115200)
    assert (plain.wanted, plain.service, plain.notify, plain.write) == ("Robot 1", UART_SERVICE, UART_NOTIFY, UART_WRITE)
    assert plain.greeting is None
    assert wish("ble:").wanted == ""
    assert wish("ble:C0:FF:EE:00:00:01").wanted == "C0:FF:EE:00:00:01"


def test_every_option_reaches_the_source() -> None:
    words = ["--ble-service=180d", "--ble-notify=2a37", "--ble-write=2a39", "--ble-greeting=go", "--ble-timeout=3"]
    full = wish("ble:x", **options(*words), reconnect_s=0.0)
    assert (full.service[:8], full.notify[:8], full.write[:8]) == ("0000180d", "00002a37", "00002a39")
    assert (full.greeting, full.scan_timeout_s, full.give_up_s) == ("go", 3.0, 0.0)


@pytest.mark.parametrize("text", ["180d", "0x180D", HEART_RATE.upper(), HEART_RATE.replace("-", "")])
def test_uuids_in_any_writing(text: str) -> None:
    # Bluetooth SIG, Assigned Numbers: 0x180D; Core Specification, Vol 3, Part B, 2.5.1: the base it stands on.
    assert options("--ble-service", text)["service"] == HEART_RATE


@pytest.mark.parametrize("text", ["", "uart", "12345", "zzzz", "-1-1", "-180", "0x", "0x123456789", HEART_RATE[:-4]])
def test_what_is_no_uuid(text: str) -> None:
    with pytest.raises(UsageError, match=r"^--ble-notify: '.*' is not a UUID. Write it like"):
        options(f"--ble-notify={text}")


@pytest.mark.parametrize("seconds", ["0", "121", "nan"])
def test_a_time_out_of_range(seconds: str) -> None:
    with pytest.raises(UsageError, match="--ble-timeout"):
        options("--ble-timeout", seconds)
