"""How a link is doing, in words."""

from __future__ import annotations

import pytest

from telemetry.report.link_words import connected_words, strength_words, totals_words
from telemetry.sources.ble_health import HealthMeter


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
