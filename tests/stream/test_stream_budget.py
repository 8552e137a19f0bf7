"""Whether a stream fits its link."""

from __future__ import annotations

import pytest

from telemetry.stream.budget import Budget, ble_budget, serial_budget
from telemetry.wording import sentence


def test_a_serial_line() -> None:
    # 8N1 puts 10 bits on the wire for a byte: 115,200 baud = 11,520 B/s, a line of 41 bytes takes 3.6 ms (arithmetic).
    budget = serial_budget(41, 200, 115_200)
    assert budget.capacity_bytes_per_s == 11_520
    assert budget.line_ms == pytest.approx(3.6, abs=0.05)
    assert budget.share == pytest.approx(8200 / 11_520)
    assert budget.most_lines_per_s == pytest.approx(280.98, abs=0.01)
    assert not budget.warning


@pytest.mark.parametrize(("mtu", "payload"), [(23, 20), (247, 244)])
def test_a_notification_carries_the_mtu_less_three(mtu: int, payload: int) -> None:
    # Bluetooth Core Specification, Vol 3, Part F and G.
    assert ble_budget(41, 1, mtu, interval_ms=1000).capacity_bytes_per_s == payload


def test_ble_latency_counts_whole_intervals() -> None:
    assert ble_budget(41, 1, 23, interval_ms=15).line_ms == 45
    assert ble_budget(41, 1, 247, interval_ms=15).line_ms == 15
    assert ble_budget(41, 1, 23, interval_ms=15, per_interval=2).line_ms == 30


def _warning(budget: Budget) -> str:
    assert budget.warning is not None
    return sentence(budget.warning)


def test_warnings() -> None:
    assert "hardly any room" in _warning(serial_budget(50, 190, 115_200))
    full = _warning(serial_budget(50, 400, 115_200))
    assert "does not fit" in full
    assert "174 % would be used" in full
    assert "at most 184 lines/s" in full
    assert "larger ATT MTU" in _warning(ble_budget(41, 100))
