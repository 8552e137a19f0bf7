"""How a link is doing, in words."""

from __future__ import annotations

import pytest

from telemetry.report.link_words import (
    LineFlow,
    ble_budget_words,
    budget_words,
    connected_words,
    strength_words,
    totals_words,
)
from telemetry.sources.ble.health import HealthMeter


@pytest.mark.parametrize(("dbm", "word"), [(-65, "strong"), (-66, "fair"), (-80, "fair"), (-81, "weak"), (None, "not told")])
def test_strength_in_words(dbm: int | None, word: str) -> None:
    assert word in strength_words(dbm)


def test_what_is_not_known_is_not_claimed() -> None:
    nothing = HealthMeter().look().to_dict()
    assert connected_words(nothing) == "connected over BLE: signal not told"
    assert totals_words(nothing) == "over BLE: 0 bytes in 0 notifications, no drop"


def test_a_link_in_words() -> None:
    meter = HealthMeter()
    meter.connected(mtu_bytes=247, rssi_dbm=-70)
    meter.arrived(40)
    meter.dropped()
    meter.back(1.25)
    assert connected_words(meter.look().to_dict()) == "connected over BLE: -70 dBm (fair), up to 244 bytes a notification"
    assert totals_words(meter.look().to_dict()) == "over BLE: 40 bytes in 1 notification, 1 drop, 1.2 s away"
    meter.dropped()
    assert totals_words(meter.look().to_dict()) == "over BLE: 40 bytes in 1 notification, 2 drops, 1.2 s away"


def test_the_budget_of_a_link_in_words() -> None:
    """Bluetooth Core Specification, Vol 3, Part F and G: a notification carries ATT MTU - 3 bytes, 20 of 23."""
    flow = LineFlow.of(300, 0, 300 * 41, 3.0)
    assert flow == LineFlow(41.0, 100.0, False)
    # 41 bytes are three notifications of 20: 300/s are 9 in 30 ms, which carry 6000 bytes/s; 4100 are 68 % of that.
    link = {"mtu_bytes": 23, "notifications_per_s": 300.0}
    assert ble_budget_words(link, flow).startswith(
        "link budget: 100 lines/s of 41 bytes take 68 % of 9 notifications of 20 bytes every 30 ms"
    )
    wide = ble_budget_words({"mtu_bytes": 247, "notifications_per_s": 0.0}, LineFlow(41.0, 50.0, False))
    assert "take 25 % of 1 notification of 244 bytes" in wide
    assert ble_budget_words({}, flow) == ""


def test_lost_lines_on_a_full_link_are_a_warning() -> None:
    flow = LineFlow.of(300, 300, 300 * 41, 3.0)
    assert flow is not None
    words = ble_budget_words({"mtu_bytes": 23, "notifications_per_s": 300.0}, flow)
    assert words.startswith("200 lines/s of 41 bytes does not fit the link")


def test_too_little_tells_no_flow() -> None:
    assert LineFlow.of(1, 0, 41, 3.0) is None
    assert LineFlow.of(100, 0, 4100, 0.0) is None


def test_a_serial_line_is_warned_of_when_it_is_nearly_full() -> None:
    # 8N1: 10 bits a byte, so 115,200 baud carry 11,520 bytes/s (checked with the budget itself).
    nearly = LineFlow(50.0, 200.0, False)
    assert "hardly any room" in budget_words("/dev/ttyUSB0", 115_200, {}, nearly)
    assert budget_words("/dev/ttyACM0", 115_200, {}, nearly) == ""
    assert budget_words("/dev/ttyUSB0", 115_200, {}, LineFlow(50.0, 100.0, False)) == ""
    assert budget_words("/dev/ttyUSB0", 115_200, {}, LineFlow(50.0, 400.0, False)) == ""
    assert "does not fit" in budget_words("/dev/ttyUSB0", 115_200, {}, LineFlow(50.0, 400.0, True))
