"""What a place of the window is to the shell."""

from __future__ import annotations

from PySide6.QtWidgets import QVBoxLayout, QWidget

from gui.model.workspace import Workspace
from gui.panels.notice import Notice
from gui.theme import GAP_PX, Theme


class Place(QWidget):
    """One of the places. ``self.column`` is its layout, below the line where messages appear."""

    name = ""

    def __init__(self, workspace: Workspace, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.workspace = workspace
        outer = QVBoxLayout(self)
        outer.setContentsMargins(GAP_PX + 4, GAP_PX, GAP_PX + 4, GAP_PX + 4)
        outer.setSpacing(GAP_PX)
        self.notice = Notice()
        outer.addWidget(self.notice)
        self.column = QVBoxLayout()
        self.column.setSpacing(GAP_PX)
        outer.addLayout(self.column, 1)

    def entered(self, what: object = None) -> None:
        """The place comes into view; ``what``: something it was asked to show."""

    def left(self) -> None:
        """Another place comes into view."""

    def closing(self) -> None:
        """The window closes: stop what runs in the background."""

    def set_theme(self, theme: Theme) -> None:
        """Light or dark has changed."""
