"""Colours, driven by key on the built-in robot."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from by_hand import click, press
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from gui.model.colour_judgement import judged
from gui.window import Window
from telemetry.palette import Palette, PaletteColour


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
    for colour in driving.workspace.selection.course.colours:
        assert colour in words
    target = driving.workspace.folder.path / "mine.toml"
    colours.keep_as(target)
    assert target.exists()
    assert driving.workspace.selection.palette is not None
    assert driving.workspace.selection.palette.measured
    assert colours.palette_name.text() == "mine"
    assert not colours.keep_button.isEnabled()
    click(qtbot, colours.check_button)
    while calibration.step is not None:
        press(qtbot, driving, Qt.Key.Key_Space)
        qtbot.waitUntil(lambda: calibration.taking, timeout=30_000)
        qtbot.waitUntil(lambda: not calibration.taking, timeout=30_000)
    assert "as before" in colours.answer_head.text()
    assert colours.plane.today == [step.colour for step in calibration.steps], "today's colours lie beside the palette's"


def with_means(*named: tuple[str, tuple[float, float, float]], measured: bool = True) -> Palette:
    """Colours of these levels, each with a standard deviation of ten."""
    colours = tuple(
        PaletteColour(name, np.array([*mean, np.nan]), np.diag([100.0, 100.0, 100.0, np.nan]), 100) for name, mean in named
    )
    return Palette("mine", colours, measured)


def test_colours_are_judged_in_words_before_any_figure(window: Window) -> None:
    far = with_means(("none", (100, 100, 100)), ("rust", (900, 200, 100)), ("leaf", (200, 900, 150)))
    near = with_means(("none", (100, 100, 100)), ("rust", (900, 200, 100)), ("orange", (905, 203, 100)))
    assert judged(far).kind == "good"
    assert judged(far).words == "This sensor tells all 3 colours apart."
    assert judged(near).kind == "bad"
    assert "rust and orange" in judged(near).words
    assert judged(replace(far, measured=False)).kind == "warn"
    window.show_place("colours")
    colours: Any = window.place
    assert colours.judged_words.text().startswith("! Typical colours")
    colours.risk.show_palette(near)
    assert colours.risk.item(0, 1).text().startswith("✗ ")
    assert all(colours.risk.isColumnHidden(column) for column in (2, 3, 4)), "figures are shown on demand"
    colours.figures.setChecked(True)
    assert not any(colours.risk.isColumnHidden(column) for column in (2, 3, 4))


def test_another_course_takes_no_focus_to_a_page_that_is_not_seen(window: Window) -> None:
    """Found by pressing every key: the choice of the course under Start lost the focus to a hidden button of Colours."""
    window.show_place("colours")
    window.show_place("start")
    start: Any = window.place
    start.variant.setFocus()
    start.variant.setCurrentIndex(1)
    start.variant.activated.emit(1)
    assert QApplication.focusWidget() is start.variant
