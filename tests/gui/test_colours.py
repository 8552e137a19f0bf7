"""Colours, driven by key on the built-in robot."""

from __future__ import annotations

from typing import Any

import pytest
from by_hand import click, press
from PySide6.QtCore import Qt

from gui.window import Window


def test_colours_are_learnt_step_by_step_and_re_checked(
    driving: Window, qtbot: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("gui.model.calibration.TAKE_S", 0.6)
    driving.show_place("colours")
    colours: Any = driving.place
    calibration = colours.calibration
    steps = len(calibration.steps)
    assert calibration.steps[0].colour == "none"
    for number in range(steps):
        press(qtbot, driving, Qt.Key.Key_Space)
        qtbot.waitUntil(lambda: calibration.taking, timeout=30_000)
        qtbot.waitUntil(lambda: not calibration.taking, timeout=30_000)
        assert len(calibration.captures) == number + 1
    assert calibration.step is None
    assert colours.risk.rowCount() >= 5
    words = colours.plane.accessibleDescription()
    for colour in driving.workspace.course.colours:
        assert colour in words
    target = driving.workspace.folder / "mine.toml"
    colours.keep_as(target)
    assert target.exists()
    assert driving.workspace.palette is not None
    assert driving.workspace.palette.measured
    assert colours.palette_name.text() == "mine"
    assert not colours.keep_button.isEnabled()
    click(qtbot, colours.check_button)
    while calibration.step is not None:
        press(qtbot, driving, Qt.Key.Key_Space)
        qtbot.waitUntil(lambda: calibration.taking, timeout=30_000)
        qtbot.waitUntil(lambda: not calibration.taking, timeout=30_000)
    assert "as before" in colours.answer_head.text()
    assert colours.plane.today == [step.colour for step in calibration.steps], "today's colours lie beside the palette's"
