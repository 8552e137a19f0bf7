"""Plots on the clipboard: as a picture for a message, as a table for a spreadsheet."""

from __future__ import annotations

from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QWidget

from gui.plots.stack import StripStack


def copy_picture(widget: QWidget) -> None:
    """What the widget shows, as a picture."""
    QGuiApplication.clipboard().setPixmap(widget.grab())


def copy_table(stack: StripStack) -> int:
    """The samples in view as tab-separated text; returns how many."""
    QGuiApplication.clipboard().setText(stack.as_text())
    return len(stack.rows_in_view())
