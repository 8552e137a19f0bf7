"""Match day: one page by itself, in large type, that needs no pointer."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from by_hand import press
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from gui.model.answer import answer
from gui.window import Window
from telemetry.palette_default import default_palette
from telemetry.palette_file import write_palette

CTRL = Qt.KeyboardModifier.ControlModifier


def test_it_stands_alone_and_says_what_the_last_run_was(stocked: Window, qtbot: Any) -> None:
    stocked.show_place("match")
    match: Any = stocked.place
    assert not stocked.rail.isVisible()
    assert not stocked.bar.isVisible()
    qtbot.waitUntil(lambda: match.verdict is not None, timeout=30_000)
    said = answer(match.verdict, stocked.workspace.selection.strategy)
    assert said.headline in match.run.big.text()
    assert match.verdict.path == Path(stocked.workspace.shelf.entries[0].path)
    before = stocked.workspace.lot.layout
    for _ in range(3):  # drawn at random: the same twice is possible, three times hardly
        press(qtbot, stocked, Qt.Key.Key_L, CTRL)
    assert stocked.workspace.lot.layout != before
    press(qtbot, stocked, Qt.Key.Key_Escape)
    assert stocked.place.name == "runs"
    assert stocked.rail.isVisible()


def test_the_next_layout_is_one_wherever_it_is_shown(stocked: Window) -> None:
    stocked.show_place("record")
    record: Any = stocked.place
    stocked.show_place("match")
    match: Any = stocked.place
    for _ in range(3):
        match.lot.again.click()
        layout = [state.colour for state in match.lot.map.states]
        assert layout == [state.colour for state in record.lot.map.states]
        assert layout == list(stocked.workspace.lot.layout)
    practised = match.lot.bar.format()
    assert not practised.startswith("0 ")
    selection = stocked.workspace.selection
    first = selection.variant
    selection.use_built_in_course("back")
    assert match.lot.bar.format() != practised
    selection.use_built_in_course(first)
    assert match.lot.bar.format() == record.lot.bar.format() == practised, "the runs on this course count at once"


def test_a_re_check_is_done_by_keys_alone(
    driving: Window, qtbot: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("gui.model.calibration.TAKE_S", 0.4)
    path = tmp_path / "home.toml"
    write_palette(default_palette(), path)
    driving.workspace.selection.use_palette(path)
    driving.show_place("match")
    match: Any = driving.place
    press(qtbot, driving, Qt.Key.Key_K, CTRL)
    assert match.colours.big.text().startswith("1 of")
    for held in (match.take_button, match.record_button, match.open_button):
        held.setFocus()
        press(qtbot, driving, Qt.Key.Key_Space)
        assert match.calibration.taking, "whatever has the focus"
        qtbot.waitUntil(lambda: not match.calibration.taking, timeout=30_000)
    assert not driving.workspace.follow.recording
    assert driving.place is match
    assert match.calibration.checked() is not None
    assert match.colours.big.text() == match.calibration.checked().verdict
    match.check_button.setFocus()
    press(qtbot, driving, Qt.Key.Key_Space)
    assert match.checking, "a button's own key again"
    match.take_button.setFocus()
    match.stop_button.click()
    assert QApplication.focusWidget() is match.check_button
    assert match.colours.big.text() == driving.workspace.selection.last_recheck.verdict
    match.check()
    driving.workspace.selection.recheck_changed.emit()
    assert not match.checking, "another page has made one"
