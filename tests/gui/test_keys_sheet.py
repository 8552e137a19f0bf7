"""The sheet of keys: what it shows can be pressed in it, too."""

from __future__ import annotations

from typing import Any

from by_hand import press
from PySide6.QtCore import Qt

from gui.panels.keys import KeysDialog


def test_the_guide_opens_by_the_key_that_its_button_shows(qtbot: Any) -> None:
    sheet: Any = KeysDialog(None)
    qtbot.addWidget(sheet)
    sheet.show()
    sheet.activateWindow()
    qtbot.waitUntil(sheet.isActiveWindow, timeout=30_000)
    press(qtbot, sheet, Qt.Key.Key_F1, Qt.KeyboardModifier.ShiftModifier)
    assert sheet.result() == KeysDialog.GUIDE
