"""The question before code runs that the user did not write on a command line."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox, QWidget

from gui.words import tr
from telemetry.safe_text import printable


def box_for(parent: QWidget | None, path: str) -> QMessageBox:
    """The box; Return and Escape both mean no."""
    box = QMessageBox(parent)
    box.setTextFormat(Qt.TextFormat.PlainText)
    box.setIcon(QMessageBox.Icon.Warning)
    box.setWindowTitle(tr("Run this code?"))
    box.setText(tr("This file is Python code, and it would run with all your rights:") + "\n\n" + printable(path))
    box.setInformativeText(tr("Run it only if you have read it, or know who wrote it."))  # has no format: no path in it
    box.addButton(tr("Run it"), QMessageBox.ButtonRole.AcceptRole)
    no = box.addButton(tr("Leave it out"), QMessageBox.ButtonRole.RejectRole)
    box.setDefaultButton(no)
    box.setEscapeButton(no)
    return box


def ask_code(parent: QWidget | None, path: str) -> bool:
    """Show the path; True where the user wants the code in it to run."""
    box = box_for(parent, path)
    box.exec()
    return box.buttonRole(box.clickedButton()) is QMessageBox.ButtonRole.AcceptRole
