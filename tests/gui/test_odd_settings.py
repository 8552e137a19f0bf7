"""The window's settings are a file that anything may have changed: whatever stands in it, the window opens."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtWidgets import QApplication

from gui.shell import make_window

KEYS = [
    "battery", "baud", "columns", "course", "courses", "driven_by", "geometry", "height_mm", "known_robots", "light", "look",
    "own_strategies", "palette", "recent_robots", "recheck", "remarks", "robot", "strategy", "variant",
]  # fmt: skip


@pytest.mark.parametrize("odd", ["-99999999999999999999", "a, b, c", "@ByteArray(xx)", "[[[[", "/dev/zero", "x" * 5000])
def test_odd_settings_cost_nothing(
    qapp: QApplication, qtbot: Any, tmp_path: Path, odd: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "settings.ini").write_text("[General]\n" + "".join(f"{key}={odd}\n" for key in KEYS))
    faults: list[object] = []
    monkeypatch.setattr(sys, "excepthook", lambda *fault: faults.append(fault))
    window = make_window(tmp_path / "settings.ini", tmp_path / "runs")
    with qtbot.waitSignal(window.ready, timeout=30_000):
        window.show()
    assert window.workspace.selection.course.name == "Orchard Row"
    for name in ("live", "record", "colours", "runs", "decide"):
        window.show_place(name)
        qapp.processEvents()
    window.close()
    qapp.processEvents()
    window.deleteLater()
    qapp.processEvents()
    assert not faults
