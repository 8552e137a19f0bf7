"""The question for a folder, no larger than the screen: Qt's own dialog asks for more than a small one has."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QWidget

SHARE = 0.9
WIDE_PX, HIGH_PX = 760, 480


def folder_dialog(parent: QWidget, title: str, start: Path) -> QFileDialog:
    """Made, not shown."""
    dialog = QFileDialog(parent, title, str(start))
    dialog.setFileMode(QFileDialog.FileMode.Directory)
    dialog.setOption(QFileDialog.Option.ShowDirsOnly)
    room = parent.screen().availableGeometry()
    dialog.resize(min(WIDE_PX, int(room.width() * SHARE)), min(HIGH_PX, int(room.height() * SHARE)))
    return dialog


def ask_for_folder(parent: QWidget, title: str, start: Path) -> str:
    """The folder chosen; empty where none was."""
    dialog = folder_dialog(parent, title, start)
    try:
        return dialog.selectedFiles()[0] if dialog.exec() and dialog.selectedFiles() else ""
    finally:
        dialog.deleteLater()
