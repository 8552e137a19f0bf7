"""What a place of the window is to the shell."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QAbstractButton, QApplication, QScrollArea, QVBoxLayout, QWidget

from gui.model.workspace import Workspace
from gui.panels.key_host import KeyHost, usable
from gui.theme import GAP_PX, Theme


class Place(KeyHost):
    """One of the places. ``self.column`` is its layout."""

    name = ""
    alone = False
    """Shown by itself, without the rail and the bar."""

    def __init__(self, workspace: Workspace, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.workspace = workspace
        self._had_focus: QWidget | None = None
        outer = QVBoxLayout(self)
        outer.setContentsMargins(GAP_PX + 4, GAP_PX, GAP_PX + 4, GAP_PX + 4)
        outer.setSpacing(GAP_PX)
        self.column = QVBoxLayout()
        self.column.setSpacing(GAP_PX)
        outer.addLayout(self.column, 1)

    def entered(self, what: object = None) -> None:
        """The place comes into view; ``what``: something it was asked to show."""

    def left(self) -> None:
        """Another place comes into view."""

    def homes(self) -> list[QWidget]:
        """What gets the focus when the place is opened: the first of these that can have it."""
        return []

    def take_focus(self) -> None:
        """The place has come into view: what had the focus when it was left has it again, else its home."""
        now = QApplication.focusWidget()
        if now is not None and now is not self and usable(now, self):
            return  # it was put there while the place opened
        self.go_home(self._had_focus)

    def go_home(self, *first: QWidget | None) -> None:
        """The focus to the first of these that can have it: ``first``, then the place's homes."""
        for widget in (*first, *self.homes()):
            if usable(widget, self):
                assert widget is not None
                widget.setFocus()
                if isinstance(widget, QAbstractButton) and self.isVisible():
                    QTimer.singleShot(0, widget, partial(bring_into_view, widget))
                return
        self.setFocus()

    def give_focus(self) -> None:
        """Another place comes into view: remember where the focus was."""
        now = QApplication.focusWidget()
        self._had_focus = now if now is not None and usable(now, self) else None
        if now is not None:
            now.clearFocus()

    def closing(self) -> None:
        """The window closes: stop what runs in the background."""

    def set_theme(self, theme: Theme) -> None:
        """Light or dark has changed."""


def bring_into_view(widget: QWidget) -> None:
    """Scroll the frames around to what has just got the focus."""
    within = widget.parentWidget()
    while within is not None:
        if isinstance(within, QScrollArea):
            within.ensureWidgetVisible(widget, 0, GAP_PX)
        within = within.parentWidget()
