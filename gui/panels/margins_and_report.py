"""From the matrix onwards: how far its runs are from being misread, and a report of them. Two buttons and what they do."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QUrl, Signal
from PySide6.QtGui import QDesktopServices

from gui.model.folder import RunFolder
from gui.model.jobs import Job, Jobs
from gui.model.matrix import Matrix
from gui.model.messages import Messages
from gui.model.reporting import order_of, write_report
from gui.model.season import SeasonKind, free_file
from gui.panels.matrix_view import MatrixView
from gui.panels.parts import button
from gui.words import runs, tr
from telemetry.tuning.stress import Stress

if TYPE_CHECKING:
    from gui.panels.margins_dialog import MarginsDialog


class MarginsAndReport(QObject):
    """``dialog`` makes that of margins, of what is shown. ``margins``: those found last, for the report."""

    progressed = Signal(int, int)

    def __init__(
        self, folder: RunFolder, messages: Messages, matrix: Matrix, view: MatrixView, dialog: Callable[[], MarginsDialog]
    ) -> None:
        super().__init__(view)
        self.folder, self.messages, self.matrix, self.view, self.dialog = folder, messages, matrix, view, dialog
        self.margins: Stress | None = None
        self._jobs = Jobs()
        self.margins_button = button(tr("Margins…"), self.show_margins, kind="quiet",
                                     hint=tr("how fast and how high until it fails; a map of the settings"))  # fmt: skip
        self.report_button = button(tr("Report…"), self._ask_report, kind="quiet",
                                    hint=tr("one page of these runs, to print or to send"))  # fmt: skip

    def show_margins(self) -> None:
        """How far the runs shown are from being misread, and which settings read them."""
        if not self.matrix.paths:
            self.messages.tell(
                tr("Record a run and enter its colours first: margins are found from runs."), "warn"
            )
            return
        dialog = self.dialog()
        dialog.exec()
        self.margins = dialog.margins or self.margins

    def _ask_report(self) -> None:
        if not self.matrix.paths or self.matrix.busy:
            self.messages.tell(tr("There is nothing to report yet: runs are compared first."), "warn")
            return
        self.write_report(free_file(self.folder.path, SeasonKind.REPORT))

    def write_report(self, target: Path) -> None:
        """One page of the runs and strategies shown, complete in itself, written on a thread."""
        order = self.messages.attempt(lambda: order_of(self.matrix, self.view.cells.shown, self.margins))
        if order is None:
            return
        job = Job(lambda job: write_report(order, target, job), self)
        job.progressed.connect(self.progressed)
        job.failed.connect(lambda words: self.messages.tell(words, "bad"))
        job.finished.connect(lambda count: self._written(target, count))
        self._jobs.start(job)

    def _written(self, target: Path, count: int) -> None:
        words = tr("{name}: a report of {runs}, in the folder of the runs.", name=target.name, runs=runs(count))
        show = QUrl.fromLocalFile(str(target))
        self.messages.tell(words, action=tr("Open it"), does=lambda: QDesktopServices.openUrl(show))

    def close(self) -> None:
        self._jobs.close()
