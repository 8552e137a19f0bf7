"""What lies in the folder beside the runs: palettes, strategies, baselines, courses, reports; one key uses or opens one."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QAbstractItemView, QDialog, QHeaderView, QTableWidget, QTableWidgetItem, QVBoxLayout, QWidget

from gui.model.season import SeasonFile, SeasonKind
from gui.panels.file_dialogs import fit_to_screen
from gui.panels.parts import Label, button, row
from gui.plain_text import tip
from gui.words import tr

WIDE_PX, HIGH_PX = 820, 480


class SeasonDialog(QDialog):
    """``wanted`` comes with the file that is to be used or opened."""

    wanted = Signal(object)

    def __init__(self, files: list[SeasonFile], folder: Path, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.files = files
        self.setWindowTitle(tr("In this folder"))
        fit_to_screen(self, WIDE_PX, HIGH_PX)
        self.kinds = {
            SeasonKind.PALETTE: (tr("Palette"), tr("Use this palette")),
            SeasonKind.STRATEGY: (tr("Strategy"), tr("Use this strategy")),
            SeasonKind.BASELINE: (tr("Baseline"), tr("Go to Decide")),
            SeasonKind.COURSE: (tr("Course"), tr("Use this course")),
            SeasonKind.REPORT: (tr("Report"), tr("Open this report")),
        }
        self.table = QTableWidget(len(self.files), 4)
        self.table.setHorizontalHeaderLabels([tr("What"), tr("Name"), tr("About"), tr("Saved")])
        self.table.setAccessibleName(tr("Files in the folder of the runs"))
        self.table.verticalHeader().hide()
        self.table.setShowGrid(False)
        self.table.setTabKeyNavigation(False)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        header = self.table.horizontalHeader()
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(2, QHeaderView.ResizeMode.Stretch)
        for number, one in enumerate(self.files):
            texts = (self.kinds[one.kind][0], one.path.name, one.about, one.when.strftime("%Y-%m-%d %H:%M"))
            for column, text in enumerate(texts):
                item = QTableWidgetItem(text)
                item.setToolTip(tip(text))
                self.table.setItem(number, column, item)
        where = Label(tr("Beside the runs in {folder}", folder=folder), "soft", wrap=True)
        none = Label(tr("Nothing yet. Palettes, strategies, baselines, courses and reports that you save are listed here."),
                     wrap=True)  # fmt: skip
        self.use_button = button("", self.use, kind="chief")
        self.table.currentCellChanged.connect(lambda *_cells: self._show_chosen())
        self.table.itemActivated.connect(lambda _item: self.use())
        column_of = QVBoxLayout(self)
        column_of.addWidget(where)
        column_of.addWidget(self.table if self.files else none, 1)
        column_of.addLayout(row(None, button(tr("Close"), self.close), self.use_button))
        self.use_button.setVisible(bool(self.files))
        if self.files:
            self.table.selectRow(0)
            self.table.setFocus()

    def _chosen(self) -> SeasonFile | None:
        at = self.table.currentRow()
        return self.files[at] if 0 <= at < len(self.files) else None

    def _show_chosen(self) -> None:
        one = self._chosen()
        if one is not None:
            self.use_button.setText(self.kinds[one.kind][1])
            self.use_button.setAccessibleName(self.use_button.text())

    def use(self) -> None:
        """The chosen one, and the dialog closes."""
        one = self._chosen()
        if one is not None:
            self.close()
            self.wanted.emit(one)
