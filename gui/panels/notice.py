"""One sentence where it happened: what is wrong and what to do, or what was done and how to take it back."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QWidget

from gui.panels.parts import Label, button, set_kind
from gui.words import tr

SIGNS = {"good": "✓", "warn": "!", "bad": "✗"}


class Notice(QFrame):
    """A line that appears at the top of a place and stays until it is closed or another one comes.

    Good news goes when the place is left; what is wrong waits for the user.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._action: Callable[[], object] | None = None
        self._kind = ""
        self._sign = Label("", "large")
        self._text = Label("", wrap=True)
        self._do = button("", self._act)
        self._away = button(tr("Close"), self.hide, kind="quiet")
        line = QHBoxLayout(self)
        line.setContentsMargins(14, 8, 10, 8)
        line.setSpacing(10)
        line.addWidget(self._sign)
        line.addWidget(self._text, 1)
        line.addWidget(self._do)
        line.addWidget(self._away)
        self.hide()

    @property
    def text(self) -> str:
        """What it says now, empty while it is hidden."""
        return self._text.text() if not self.isHidden() else ""

    @property
    def action(self) -> str:
        """What its button offers, empty where there is none."""
        return self._do.text() if not self.isHidden() else ""

    def pass_by(self) -> None:
        """The user goes on."""
        if self._kind == "good":
            self.hide()

    def tell(self, text: str, kind: str = "good", *, action: str = "", does: Callable[[], object] | None = None) -> None:
        """Show ``text``. ``kind``: good, warn or bad, also said by a sign. ``action``: a button beside it."""
        self._kind = kind
        set_kind(self, kind)
        self._sign.setText(SIGNS[kind])
        self._text.setText(text)
        self._do.setText(action)
        self._do.setVisible(bool(action))
        self._action = does
        self.setAccessibleName(text)
        self.show()

    def _act(self) -> None:
        self.hide()
        if self._action is not None:
            self._action()

    def keyPressEvent(self, event) -> None:  # type: ignore[no-untyped-def]  # noqa: N802
        if event.type() == QEvent.Type.KeyPress and event.key() == Qt.Key.Key_Escape:
            self.hide()
            return
        super().keyPressEvent(event)
