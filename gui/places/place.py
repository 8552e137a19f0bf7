"""What a place of the window is to the shell."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QAbstractButton, QApplication, QVBoxLayout, QWidget

from gui.in_sight import bring_into_view, in_sight
from gui.model.workspace import Workspace
from gui.panels.key_host import KeyHost, usable
from gui.theme import GAP_PX, Theme

SETTLES_MS = (0, 120)
"""Cards whose height follows their width ask for it in several rounds."""


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
        able = [one for one in (*first, *self.homes()) if one is not None and usable(one, self)]
        if not able:
            self.setFocus()
            return
        able[0].setFocus()
        if self.isVisible():
            scroll = able[0] in first or isinstance(able[0], QAbstractButton)
            if scroll:
                for after_ms in SETTLES_MS:
                    QTimer.singleShot(after_ms, self, partial(self._bring_home, able[0]))
            else:
                self.stay_in_sight()

    @staticmethod
    def _bring_home(widget: QWidget) -> None:
        if QApplication.focusWidget() is widget:
            bring_into_view(widget)

    def stay_in_sight(self) -> None:
        """Once all is laid out: where the home is below what is to be read first, another one that is seen has the focus."""
        if self.isVisible():
            for after_ms in SETTLES_MS:
                QTimer.singleShot(after_ms, self, self._look_after_focus)

    def _look_after_focus(self) -> None:
        able = [one for one in self.homes() if usable(one, self)]
        if not able or QApplication.focusWidget() is not able[0] or in_sight(able[0]):
            return
        seen = next((one for one in able[1:] if in_sight(one)), None)
        if seen is not None:
            seen.setFocus()
        else:
            bring_into_view(able[0])

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

