"""What the window shows (``gui/model``) stands without widgets: nothing there imports one, not even inside a function."""

from __future__ import annotations

import ast
from pathlib import Path

import gui.model
from gui.model.calibration import step_words
from gui.model.session import _said
from telemetry.calibrate.guided import CaptureStep
from telemetry.replay.readings import MISSING_READING, READ, Reading

FORBIDDEN = ("PySide6.QtWidgets", "gui.places", "gui.panels", "gui.plots", "gui.window")


def imported(path: Path) -> list[str]:
    """Every module that a file imports, wherever in it."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            found += [node.module or "", *(f"{node.module}.{alias.name}" for alias in node.names)]
    return found


def test_the_model_imports_no_widget() -> None:
    files = sorted(Path(gui.model.__file__).parent.glob("*.py"))
    assert len(files) > 15
    wrong = [f"{path.name}: {name}" for path in files for name in imported(path) if name.startswith(FORBIDDEN)]
    assert not wrong


def test_the_check_sees_an_import_inside_a_function(tmp_path: Path) -> None:
    path = tmp_path / "late.py"
    path.write_text("def show():\n    from PySide6.QtWidgets import QLabel\n    return QLabel\n", encoding="utf-8")
    assert "PySide6.QtWidgets.QLabel" in imported(path)


def test_an_empty_slot_is_said_to_be_empty_and_a_missed_one_missing() -> None:
    """Spoken during a practice session."""
    assert _said(Reading(0, "rust", READ)) == "rust"
    assert _said(Reading(0, None, READ)) == "empty"
    assert _said(Reading(0, None, MISSING_READING)) == "missing"


def test_what_to_hold_under_the_sensor_is_a_sentence_of_the_window() -> None:
    assert step_words(CaptureStep("none")) == "Hold the sensor still over the empty field (none)."
    assert step_words(CaptureStep("rust", 8.0)) == "Hold the sensor still over rust, 8 mm above it."
