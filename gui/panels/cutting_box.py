"""A recording that looks like several runs: offered to be cut into them, with progress and a way to stop."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from gui.model.cutting import Cutting
from gui.panels.parts import Card, Label, button, row
from gui.words import tr


class CuttingBox(Card):
    """Shown for the run that is asked about. ``busy_changed``: whether that run is being cut right now."""

    busy_changed = Signal(bool)

    def __init__(self, cutting: Cutting, parent: QWidget | None = None) -> None:
        super().__init__(kind="warn", parent=parent)
        self.cutting = cutting
        self.path: Path | None = None
        self._said = ""
        self.words = Label("", wrap=True)
        hint = tr("Each becomes a run of its own; this can be undone")
        self.cut_button = button(tr("Cut into runs"), self._cut, kind="chief", hint=hint)
        self.whole_button = button(tr("Keep as one run"), cutting.stop)
        line = row(self.words, self.cut_button, self.whole_button)
        line.setStretch(0, 1)
        self.add(line)
        cutting.progressed.connect(self._goes_on)
        cutting.ended.connect(self.refresh)
        self.hide()

    def ask(self, path: Path, count: int) -> None:
        """About this run, which looks like ``count`` runs."""
        self.path = path
        self._said = tr("This recording looks like {count} runs.", count=count) if count > 1 else ""
        self.refresh()

    @property
    def busy(self) -> bool:
        return self.path is not None and self.cutting.path == self.path

    def refresh(self) -> None:
        self.setVisible(bool(self._said))
        self.words.say(self._said)
        self.cut_button.setVisible(not self.busy)
        self.cut_button.setEnabled(self.cutting.path is None)
        self.whole_button.setVisible(self.busy)
        self.busy_changed.emit(self.busy)

    def _cut(self) -> None:
        if self.path is not None:
            self.cutting.start(self.path)
            self.refresh()

    def _goes_on(self, number: int, of: int) -> None:
        if self.busy:
            self.words.say(tr("Cutting out run {number} of {of} …", number=number, of=of))
