"""Strategy by strategy: right or wrong, and when it had decided."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidget, QTableWidgetItem, QWidget

from gui.model.answer import cause_sentence
from gui.model.strategy_name import strategy_name
from gui.model.verdicts import RunResults
from gui.plain_text import tip
from gui.words import tr
from telemetry.replay.scoring.results import Result
from telemetry.replay.scoring.score import Outcome
from telemetry.replay.verdict_kind import CauseKind, Verdict

SIGNS = {Outcome.RIGHT: "✓", Outcome.WRONG: "✗", Outcome.NOT_APPLICABLE: "–", Outcome.DIVERGES: "↯", None: "·"}
ROW_PX = 30


def outcome_words(result: Result) -> str:
    """Sign and word, never a colour alone."""
    words = {
        Outcome.RIGHT: tr("right"),
        Outcome.WRONG: tr("wrong"),
        Outcome.NOT_APPLICABLE: tr("not applicable"),
        Outcome.DIVERGES: tr("would have stopped"),
        None: tr("not judged"),
    }
    return f"{SIGNS[result.outcome]} {words[result.outcome]}"


def cause_words(verdict: Verdict | None) -> str:
    """Sensor or logic, and why, in words; empty where it was not asked."""
    if verdict is None:
        return ""
    return tr("Verdict: {words}", words=cause_sentence(verdict))


def cause_in_short(verdict: Verdict | None, *, read: bool) -> str:
    """One or two words for a narrow place. ``read``: some strategy read the run right all the same."""
    if verdict is None:
        return ""
    if verdict.kind is CauseKind.SENSOR and read:
        return tr("weak signal, still read")
    return {
        CauseKind.LOGIC: tr("logic"),
        CauseKind.SENSOR: tr("sensor"),
        CauseKind.STALE: tr("palette"),
        CauseKind.COLUMNS: tr("columns?"),
        CauseKind.TRUTH: tr("truth?"),
        CauseKind.NO_PALETTE: tr("no palette"),
        CauseKind.NO_CODE: tr("no code"),
        CauseKind.UNCLEAR: tr("unclear"),
    }[verdict.kind]


class VerdictTable(QTableWidget):
    """One row a strategy; ``chosen`` tells which one is looked at."""

    chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(0, 3, parent)
        self.setHorizontalHeaderLabels([tr("read with"), tr("verdict"), tr("decided")])
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(ROW_PX)
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)  # Tab leads out of it
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        header = self.horizontalHeader()
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setStretchLastSection(True)
        header.setMinimumSectionSize(40)
        header.setHighlightSections(False)
        self.setAccessibleName(tr("Verdict, strategy by strategy"))
        self.itemSelectionChanged.connect(self._tell)
        self._names: list[str] = []

    def show_verdict(self, verdict: RunResults, choose: str = "") -> None:
        """Show all results; ``choose``: the strategy looked at, without telling it."""
        self.blockSignals(True)
        self._names = [result.strategy for result in verdict.results]
        self.setRowCount(len(verdict.results))
        for number, result in enumerate(verdict.results):
            decided = "" if result.decided_ms is None else tr("{s:.1f} s", s=result.decided_ms / 1000)
            for column, text in enumerate((strategy_name(result.strategy), outcome_words(result), decided)):
                item = QTableWidgetItem(text)
                item.setToolTip(tip("\n".join(result.why) or text))
                self.setItem(number, column, item)
        self.choose(choose)
        self.blockSignals(False)
        self._fit()

    def choose(self, strategy: str) -> None:
        """Mark a row as the one looked at, without telling it."""
        if strategy in self._names:
            told = self.blockSignals(True)
            self.selectRow(self._names.index(strategy))
            self.blockSignals(told)

    def outcome_of(self, strategy: str) -> str:
        """What the row of a strategy says."""
        item = self.item(self._names.index(strategy), 1)
        return item.text() if item is not None else ""

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """When it was decided is left out where it would be cut."""
        header = self.horizontalHeader()
        wide = [max(self.sizeHintForColumn(column), header.sectionSizeHint(column)) for column in range(3)]
        self.setColumnHidden(2, sum(wide) > self.viewport().width())

    def _tell(self) -> None:
        rows = self.selectionModel().selectedRows()
        if rows:
            self.chosen.emit(self._names[rows[0].row()])
