"""Margins: how far the runs are from being misread, and which settings read them; each worked out on a thread."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QDialog, QProgressBar, QVBoxLayout, QWidget

from gui.copying import copy_picture
from gui.model.jobs import Job, Jobs
from gui.model.stressing import measure_margins, tune_settings
from gui.panels.choice import ChoiceBox
from gui.panels.file_dialogs import ask_where_to_save, fit_to_screen
from gui.panels.flow import FlowLayout
from gui.panels.margins_page import Page, margins_page, tuning_page
from gui.panels.parts import Card, Label, button, row, scrolled
from gui.picture_file import save_picture
from gui.theme import Theme
from gui.words import runs, tr
from telemetry.tuning.stress import Stress
from telemetry.tuning.tune import Tuning

WIDE_PX, HIGH_PX, LEAST_LETTERS = 900, 680, 14


class MarginsDialog(QDialog):
    """``specs``: (name, what it is replayed as) of the strategies; ``page`` shows what was found last, None before;
    ``margins`` are those found last, for whoever opened this. ``folder``: for pictures; ``palette``: its file, or empty.
    """

    def __init__(self, specs: list[tuple[str, str]], chosen: str, paths: list[Path], *, folder: Path, palette: str,
                 theme: Theme, parent: QWidget | None = None) -> None:  # fmt: skip
        super().__init__(parent)
        self.paths, self.folder, self.palette_file, self.theme = paths, folder, palette, theme
        self.page: Page | None = None
        self.margins: Stress | None = None
        self._jobs = Jobs()
        self._job: Job | None = None
        self.setWindowTitle(tr("Margins and settings"))
        fit_to_screen(self, WIDE_PX, HIGH_PX)
        self.strategy = ChoiceBox(tr("Strategy"))
        for name, spec in specs:
            self.strategy.addItem(name, spec)
        self.strategy.setCurrentIndex(max(self.strategy.findText(chosen), 0))
        self.margins_button = button(tr("Find the margins"), self.find_margins, kind="chief")
        self.tune_button = button(tr("Map the settings"), self.map_settings)
        self.progress = QProgressBar()
        self.progress.setAccessibleName(tr("Progress"))
        self.progress.setFormat(tr("%p %"))
        self.cancel_button = button(tr("Cancel"), self.cancel)
        self.words = Label("", wrap=True)
        self.copy_button = button(tr("Copy picture"), self._copy, kind="quiet")
        self.save_button = button(tr("Save picture…"), self._ask, kind="quiet")
        head = Card()
        self.strategy.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.strategy.setMinimumContentsLength(LEAST_LETTERS)
        head.add(FlowLayout(Label(tr("Strategy")), self.strategy, self.margins_button, self.tune_button))
        head.add(self.words, self.progress)
        head.add(row(None, self.cancel_button))
        self._body = QVBoxLayout()
        column = QVBoxLayout(self)
        column.addWidget(head)
        column.addLayout(self._body, 1)
        self._void = QWidget()
        """Below the questions until there is an answer."""
        self._body.addWidget(self._void, 1)
        column.addLayout(row(self.copy_button, self.save_button, None, button(tr("Close"), self.close)))
        self._area: QWidget | None = None
        self._rest(
            tr("{runs}, altered step by step and read again: how fast, how high, how dark until they are misread. Or every "
               "setting tried on them.", runs=runs(len(paths)))
        )  # fmt: skip

    def find_margins(self) -> None:
        self._start(measure_margins)

    def map_settings(self) -> None:
        self._start(tune_settings)

    def _start(self, work: object) -> None:
        assert callable(work)
        if self._job is not None:
            return
        spec, palette = str(self.strategy.currentData()), self.palette_file
        job = Job(lambda job: work(self.paths, spec, palette, job), self)
        job.piece.connect(self._told)
        job.finished.connect(self._show)
        job.failed.connect(self._rest)
        job.ended.connect(self._over)
        self._job = job
        self.progress.setRange(0, 0)
        self._say(tr("Begins …"))
        self._working(True)
        self._jobs.start(job)
        self.cancel_button.setFocus()

    def cancel(self) -> None:
        if self._job is not None:
            self._job.cancel()
            self._rest(tr("Cancelled; nothing was changed."))

    def _say(self, words: str) -> None:
        self.words.say(words)
        self.words.show()

    def _told(self, said: object) -> None:
        assert isinstance(said, tuple)
        if self._job is None or self._job.cancelled:  # on its way since before
            return
        what, done, of = said
        self.progress.setRange(0, of if done < of else 0)  # all of a part is done: what follows cannot be counted yet
        self.progress.setValue(done)
        self._say(tr("{what}: {done} of {of}", what=what, done=done, of=of))

    def _over(self) -> None:
        self._job = None
        held = self.focusWidget() is self.cancel_button
        self._working(False)
        if held:  # it is hidden now, and keys go somewhere still
            self.margins_button.setFocus()

    def _working(self, on: bool) -> None:
        for one in (self.progress, self.cancel_button):
            one.setVisible(on)
        for two in (self.strategy, self.margins_button, self.tune_button):
            two.setEnabled(not on)
        for three in (self.copy_button, self.save_button):
            three.setVisible(not on and self.page is not None and self.page.picture is not None)

    def _rest(self, words: str) -> None:
        self._say(words)
        self._working(self._job is not None)

    def _show(self, found: object) -> None:
        if self._job is None or self._job.cancelled:
            return
        if isinstance(found, Stress):
            self.margins = found
            self.page = margins_page(found, self.theme)
        elif isinstance(found, Tuning):
            self.page = tuning_page(found, self.theme)
        else:
            return
        self._void.hide()
        if self._area is not None:
            self._body.removeWidget(self._area)
            self._area.deleteLater()
        self._area = scrolled(self.page)
        self._body.addWidget(self._area)
        self.words.hide()

    def _copy(self) -> None:
        if self.page is not None:
            copy_picture(self.page)
            self._say(tr("The picture is on the clipboard."))

    def _ask(self) -> None:
        start = self.folder / "margins.png"
        chosen = ask_where_to_save(self, tr("Save the picture"), start, "PNG (*.png)")
        if chosen:
            self.save(Path(chosen).with_suffix(".png"))

    def save(self, path: Path) -> None:
        """The page as a picture."""
        if self.page is None:
            return
        try:
            save_picture(self.page.grab(), path)
        except OSError:
            self._say(tr("{name} could not be written. Choose another folder.", name=path))
        else:
            self._say(tr("Saved as {name}.", name=path.name))

    def done(self, code: int) -> None:
        self._jobs.close()
        super().done(code)
