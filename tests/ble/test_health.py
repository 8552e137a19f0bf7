"""The figures of a link, counted by a clock of the test's own."""

from __future__ import annotations

from telemetry.sources.ble.health import HealthMeter


class Clock:
    now_s = 100.0

    def __call__(self) -> float:
        return self.now_s


def test_rates_are_those_of_the_last_whole_second() -> None:
    clock = Clock()
    meter = HealthMeter(clock)
    for tenth in range(15):
        clock.now_s = 100.0 + tenth / 10
        meter.arrived(20)
    look = meter.look()
    assert (look.notifications, look.bytes) == (15, 300)
    assert (look.notifications_per_s, look.bytes_per_s) == (10.0, 200.0)
    clock.now_s = 102.0
    assert meter.look().bytes_per_s == 100.0
    clock.now_s = 103.5
    assert meter.look().bytes_per_s == 0.0


def test_silence_is_counted_from_the_last_byte_or_the_connecting() -> None:
    clock = Clock()
    meter = HealthMeter(clock)
    clock.now_s = 110.0
    meter.connected(mtu_bytes=247, rssi_dbm=-60)
    clock.now_s = 111.0
    assert meter.look().silent_s == 1.0
    meter.arrived(1)
    clock.now_s = 111.5
    assert meter.look().silent_s == 0.5


def test_bytes_end_a_silence() -> None:
    meter = HealthMeter(Clock())
    meter.connected(None, None)
    meter.became("silent")
    assert meter.look().state == "silent"
    meter.arrived(1)
    assert meter.look().state == "connected"


def test_drops_and_what_is_not_told_again_keep_their_last_value() -> None:
    meter = HealthMeter(Clock())
    meter.connected(mtu_bytes=247, rssi_dbm=-60)
    meter.dropped()
    assert meter.look().state == "reconnecting"
    meter.connected(mtu_bytes=None, rssi_dbm=None)
    meter.back(1.5)
    meter.dropped()
    look = meter.look()
    assert (look.drops, look.reconnects, look.away_s) == (2, 1, 1.5)
    assert (look.mtu_bytes, look.payload_bytes, look.rssi_dbm) == (247, 244, -60)


def test_nothing_is_claimed_before_a_connection() -> None:
    look = HealthMeter(Clock()).look()
    assert (look.state, look.mtu_bytes, look.payload_bytes, look.rssi_dbm) == ("closed", None, None, None)
