"""The line below every page: what happened and what can be done about it. It is always there, so it moves nothing."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QWidget

from gui.model.messages import Messages
from gui.panels.parts import Label, button, set_kind
from gui.plain_text import tip
from gui.words import tr

SIGNS = {"good": "✓", "warn": "!", "bad": "✗"}
HEIGHT_PX = 46
LINES = 2


class MessageBar(QFrame):
    """Shows ``messages.current``; where there is none, what ``idle`` says, quietly."""

    def __init__(self, messages: Messages, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.messages = messages
        self.idle = ""
        self.setFixedHeight(HEIGHT_PX)
        self.sign = Label("", "large")
        self.words = Label("", wrap=True)
        self.words.setMinimumWidth(40)
        self.act_button = button("", messages.act)
        self.close_button = button(tr("Close"), messages.clear, kind="quiet")
        for one in (self.act_button, self.close_button):
            one.setFixedHeight(HEIGHT_PX - 12)
        line = QHBoxLayout(self)
        line.setContentsMargins(18, 0, 14, 0)
        line.setSpacing(10)
        line.addWidget(self.sign)
        line.addWidget(self.words, 1)
        line.addWidget(self.act_button)
        line.addWidget(self.close_button)
        messages.changed.connect(self._show)
        self._show()

    @property
    def text(self) -> str:
        """What is said now; empty where nothing is."""
        return self.messages.current.text if self.messages.current is not None else ""

    @property
    def action(self) -> str:
        """What its button offers; empty where there is none."""
        return self.messages.current.action if self.messages.current is not None else ""

    def take_focus(self) -> None:
        """To what the message offers; from there Return does it and Escape closes the message."""
        for one in (self.act_button, self.close_button):
            if one.isVisible():
                one.setFocus()
                return

    def say_idle(self, words: str) -> None:
        """What stands there while there is no message."""
        self.idle = words
        self._show()

    def _show(self) -> None:
        message = self.messages.current
        set_kind(self, f"{message.kind}-line" if message is not None else "idle-line")
        self.sign.say(SIGNS[message.kind] if message is not None else "")
        self.sign.setVisible(message is not None)
        self.act_button.setVisible(bool(self.action))
        self.act_button.setText(self.action)
        self.act_button.setAccessibleName(self.action)
        self.close_button.setVisible(message is not None)
        self.setAccessibleName(self.text)
        self._fit()

    def _fit(self) -> None:
        """As much as two lines hold; the whole of it where the pointer rests."""
        text = self.text or self.idle
        room = self.words.width() * LINES - 60
        shown = self.words.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, max(room, 200)) if text else ""
        self.words.say(shown)
        self.words.setToolTip(tip(text) if shown != text else "")

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        super().resizeEvent(event)
        self._fit()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        if event.key() == Qt.Key.Key_Escape:
            self.messages.clear()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.act_button.hasFocus():
            self.messages.act()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.close_button.hasFocus():
            self.messages.clear()
        else:
            super().keyPressEvent(event)
