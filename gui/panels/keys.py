"""All keys of the place in view and of the window, on one sheet."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QDialog, QGridLayout, QVBoxLayout, QWidget

from gui.panels.file_dialogs import fit_to_screen
from gui.panels.key_host import Key
from gui.panels.parts import RECORD_KEY, Card, Label, button, row, scrolled
from gui.words import tr

AROUND_PX = 40
"""Margins of the sheet and its scroll bar."""


def everywhere() -> list[tuple[str, str]]:
    """Keys that work in every place."""
    return [
        ("Ctrl+1 … Ctrl+8", tr("go to a place")),
        ("Tab", tr("to the next field or button, with Shift back")),
        ("Return, Space", tr("press what has the focus")),
        ("Esc", tr("close a message, a list or this sheet")),
        (RECORD_KEY, tr("record a run, or end it and keep it")),
        ("Ctrl+O", tr("open a file")),
        ("Ctrl+D", tr("light or dark")),
        ("Ctrl+Z", tr("undo")),
        ("F6", tr("to what the message below offers")),
        ("F11", tr("full screen")),
        ("F1", tr("this sheet")),
        ("Shift+F1", tr("the guide")),
    ]


def plots() -> list[Key]:
    """Keys of every stack of plots that has the focus."""
    return [
        Key("← →", tr("one sample back or on, with Shift 20")),
        Key("+ −", tr("zoom in or out, as the wheel does; a live picture goes on")),
        Key("Home, End", tr("first or last sample")),
    ]


class KeysDialog(QDialog):
    """Shown by F1, put away by Escape. A place tells its own keys through ``keys()``. ``GUIDE``: ended for it."""

    GUIDE = 2

    def __init__(self, place: QWidget | None, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Keys"))
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 4, 0)
        own = getattr(place, "keys", None)
        groups = [(tr("Everywhere"), everywhere())]
        if own is not None:
            groups.insert(0, (tr("Here"), [(key.key, key.words) for key in own()]))
        for heading, keys in groups:
            card = Card(heading)
            grid = QGridLayout()
            grid.setHorizontalSpacing(18)
            for number, (key, words) in enumerate(keys):
                shown = Label(QKeySequence(key).toString(QKeySequence.SequenceFormat.NativeText) or key, "key")
                grid.addWidget(shown, number, 0, Qt.AlignmentFlag.AlignLeft)
                grid.addWidget(Label(words), number, 1)
            grid.setColumnStretch(1, 1)
            card.add(grid)
            column.addWidget(card)
        guide = button(tr("Guide"), lambda: self.done(self.GUIDE), key="Shift+F1")
        QShortcut(QKeySequence("Shift+F1"), self, lambda: self.done(self.GUIDE))
        whole = QVBoxLayout(self)
        whole.addWidget(scrolled(inside), 1)
        whole.addLayout(row(guide, None, button(tr("Close"), self.accept, kind="chief")))
        hint = inside.sizeHint()
        fit_to_screen(self, hint.width() + AROUND_PX, hint.height() + AROUND_PX + 2 * guide.sizeHint().height())
