"""The few building blocks that every place is put together from: cards, labels of one kind, buttons with their key."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QLayout,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from gui.plain_text import tip
from gui.theme import GAP_PX

RECORD_KEY = "Ctrl+R"
"""Begins a run and ends it, wherever one is: no text is ever this key."""


class Label(QLabel):
    """Plain text of one kind (see theme.style_sheet): never read as markup, because it may come from a file."""

    def __init__(self, text: str = "", kind: str = "", *, wrap: bool = False, parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.setTextFormat(Qt.TextFormat.PlainText)
        if kind:
            self.setProperty("kind", kind)
        self.setWordWrap(wrap)
        if kind == "chip":
            self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        if wrap:
            self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Minimum)

    def say(self, text: str) -> None:
        """Change the text only where it differs: an unchanged label is not painted again."""
        if text != self.text():
            self.setText(text)


class Card(QFrame):
    """A sheet with a margin; ``add`` puts things on it one below the other."""

    def __init__(self, heading: str = "", *, kind: str = "card", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("kind", kind)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(GAP_PX + 4, GAP_PX, GAP_PX + 4, GAP_PX)
        self.column.setSpacing(8)
        self.head = QHBoxLayout()
        self.head.setSpacing(8)
        self.heading = Label(heading, "large")
        if heading:
            self.head.addWidget(self.heading)
            self.head.addStretch(1)
            self.column.addLayout(self.head)
            self.setAccessibleName(heading)

    def add(self, *things: QWidget | QLayout, stretch: int = 0) -> None:
        for thing in things:
            if isinstance(thing, QWidget):
                self.column.addWidget(thing, stretch)
            else:
                self.column.addLayout(thing, stretch)


def row(*things: QWidget | None, spacing: int = 8) -> QHBoxLayout:
    """Things side by side; None is a stretch that pushes the others apart."""
    line = QHBoxLayout()
    line.setContentsMargins(0, 0, 0, 0)
    line.setSpacing(spacing)
    for thing in things:
        if thing is None:
            line.addStretch(1)
        else:
            line.addWidget(thing)
    return line


def button(text: str, does: Callable[[], object], *, kind: str = "", key: str = "", hint: str = "") -> QPushButton:
    """A button that shows its key. ``hint`` says more when the pointer rests on it, and to a screen reader."""
    made = QPushButton(f"{text}   {shown_key(key)}" if key else text)
    if kind:
        made.setProperty("kind", kind)
    made.clicked.connect(lambda _checked=False: does())
    made.setAccessibleName(text)
    if hint:
        made.setToolTip(tip(hint))
        made.setAccessibleDescription(hint)
    return made


def shown_key(key: str) -> str:
    """A key as this system writes it, in brackets: the text beside a button."""
    return f"[{QKeySequence(key).toString(QKeySequence.SequenceFormat.NativeText)}]" if key else ""


def scrolled(inside: QWidget, name: str = "") -> QScrollArea:
    """``inside`` in a frame that scrolls up and down when the window is small.

    With a ``name`` it holds words only and can have the focus, so that keys scroll it; else what is in it has the focus.
    """
    area = QScrollArea()
    area.setFocusPolicy(Qt.FocusPolicy.StrongFocus if name else Qt.FocusPolicy.NoFocus)
    area.setAccessibleName(name)
    area.setWidgetResizable(True)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setWidget(inside)
    area.setMinimumSize(QSize(200, 100))
    return area


def column_of_cards(inside: QWidget) -> QVBoxLayout:
    """The layout for cards one below the other, with room for a scroll bar beside them."""
    column = QVBoxLayout(inside)
    column.setContentsMargins(0, 0, 4, 0)
    column.setSpacing(GAP_PX)
    return column


def side_column(inside: QWidget, width_px: int) -> QScrollArea:
    """A column of cards beside the main thing: as wide as its cards need, at least ``width_px``."""
    area = scrolled(inside)
    area.setFixedWidth(max(width_px, inside.minimumSizeHint().width() + 14))
    return area


def set_kind(widget: QWidget, kind: str) -> None:
    """Give a widget another kind and have it painted so."""
    if widget.property("kind") == kind:
        return
    widget.setProperty("kind", kind)
    style = widget.style()
    style.unpolish(widget)
    style.polish(widget)
    for child in widget.findChildren(QWidget):
        style.unpolish(child)
        style.polish(child)
