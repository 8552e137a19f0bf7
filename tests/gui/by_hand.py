"""What a user's hands do: keys to whatever has the focus, clicks on what is seen."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication, QWidget

from gui.window import Window

FAST = 4.0
"""The built-in robot of the tests drives so many times faster than a real one."""


RUNS = (("practice", 1), ("practice", 2), ("venue", 103), ("slipping", 102))
"""Level and seed of the runs in the folder of a window that is ``stocked``."""


def press(qtbot: Any, window: Window, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
    """A key, to whatever has the focus."""
    qtbot.keyClick(QApplication.focusWidget() or window, key, modifier)


def click(qtbot: Any, widget: QWidget, at: QPoint | None = None) -> None:
    """The left button in the middle of a widget, or somewhere on it. It must be there to be clicked."""
    assert widget.isVisible(), widget.accessibleName()
    assert widget.isEnabled(), widget.accessibleName()
    if at is None:
        qtbot.mouseClick(widget, Qt.MouseButton.LeftButton)
    else:
        qtbot.mouseClick(widget, Qt.MouseButton.LeftButton, pos=at)


def record_one_drive(window: Window, qtbot: Any) -> Path:
    """By the one key: when the robot drives, and again when it has come to rest."""
    follow = window.workspace.follow
    kept: list[Path] = []
    follow.kept.connect(kept.append)
    qtbot.waitUntil(lambda: not follow.run.moving, timeout=30_000)
    qtbot.waitUntil(lambda: follow.run.moving, timeout=30_000)
    press(qtbot, window, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: follow.recording, timeout=30_000)
    qtbot.waitUntil(lambda: not follow.run.moving, timeout=30_000)
    press(qtbot, window, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: len(kept) == 1, timeout=30_000)
    return kept[0]
