"""The beginning of a run of hours, with the plots alone: what is not read and checked yet is not shown as if it were."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from gui.model.beginning import Beginning
from gui.model.selection import Selection
from gui.panels.elided import Elided
from gui.panels.flow import FlowLayout
from gui.panels.key_host import Key, KeyHost
from gui.panels.keys import plots
from gui.panels.parts import Card, Label, button, scrolled
from gui.plots.stack import StripStack
from gui.plots.standard import lanes_for, readable_px, strips_for
from gui.theme import GAP_PX, Theme
from gui.words import tr


class FirstLook(KeyHost):
    """``closed``: back to the list; the run is opened no further."""

    closed = Signal()

    def __init__(self, beginning: Beginning, selection: Selection, theme: Theme) -> None:
        super().__init__()
        self.beginning = beginning
        series = beginning.series
        lanes = lanes_for(series.channels, beginning.names, selection.book)
        self.stack = StripStack(strips_for(series.channels), lanes, theme)
        self.stack.setMinimumHeight(readable_px(self.stack))
        back = button(tr("← All runs"), self.closed.emit, kind="quiet", hint=tr("Back to the list (Esc)"))
        self.words = Label(
            tr(
                "Still reading and checking: these are the first {rows:,} of {all:,} samples. What was read and whether the"
                " file is whole is said when all of it is there.",
                rows=series.rows, all=beginning.of_rows,
            ),
            "soft", wrap=True,
        )  # fmt: skip
        inside = QWidget()  # where the window is lower than the plots, the page scrolls
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scrolled(inside))
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP_PX)
        column.addLayout(FlowLayout(back, Elided(beginning.title, "large"), Label(tr("not checked yet"), "chip")))
        column.addWidget(self.words)
        card = Card()
        card.add(self.stack, stretch=1)
        column.addWidget(card, 1)
        self.stack.set_series(series, live=False)
        self.set_keys(Key("Escape", tr("back to the list"), self.closed.emit), *plots())

    def homes(self) -> list[QWidget]:
        """What gets the focus."""
        return [self.stack]

    def stop(self) -> None:
        """Nothing runs here."""

    def set_theme(self, theme: Theme) -> None:
        self.stack.set_theme(theme)
