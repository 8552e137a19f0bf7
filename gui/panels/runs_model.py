"""The runs as rows of a table, the newest first, with a heading above the runs of one session."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt
from PySide6.QtWidgets import QWidget

from gui.model.standings import Standing, Standings
from gui.model.strategy_name import strategy_name
from gui.plain_text import tip
from gui.words import runs, tr
from telemetry.recording.library import Entry

Index = QModelIndex | QPersistentModelIndex
RUN, ROBOT_SAID, RESULT, SEEN, TRUTH, WHEN, LENGTH, TAGS, COURSE = range(9)
PAUSE = timedelta(minutes=90)
"""A longer pause between two runs begins another session."""


class RunsModel(QAbstractTableModel):
    """``rows`` are entries, and texts where a session's heading stands; ``entries`` the entries alone."""

    def __init__(self, standings: Standings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.standings = standings
        self.entries: list[Entry] = []
        self.rows: list[Entry | str] = []
        self.row_of: dict[str, int] = {}
        self._heads = [tr("Run"), tr("Robot"), tr("Result"), tr("Seen"), tr("Actual colours"), tr("Time"),
                       tr("Length"), tr("Tags"), tr("Course")]  # fmt: skip
        self._head_strategy = standings.strategy
        standings.changed.connect(self._restand)

    def show_entries(self, entries: list[Entry]) -> None:
        self.beginResetModel()
        self.entries = entries
        self.rows = by_session(entries)
        self.row_of = {row.path: number for number, row in enumerate(self.rows) if isinstance(row, Entry)}
        self.endResetModel()

    def entry(self, row: int) -> Entry | None:
        """None for a heading."""
        found = self.rows[row] if 0 <= row < len(self.rows) else None
        return found if isinstance(found, Entry) else None

    def standing(self, row: int) -> Standing | None:
        entry = self.entry(row)
        return self.standings.of(entry) if entry is not None else None

    def _restand(self) -> None:
        if self._head_strategy != self.standings.strategy:
            self._head_strategy = self.standings.strategy
            self.headerDataChanged.emit(Qt.Orientation.Horizontal, RESULT, RESULT)
        if self.rows:
            self.dataChanged.emit(self.index(0, ROBOT_SAID), self.index(len(self.rows) - 1, SEEN))

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: N802, B008
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: N802, B008
        return 0 if parent.isValid() else len(self._heads)

    def flags(self, index: Index) -> Qt.ItemFlag:
        return super().flags(index) if self.entry(index.row()) is not None else Qt.ItemFlag.ItemIsEnabled

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:  # noqa: N802
        if orientation == Qt.Orientation.Horizontal and role == Qt.ItemDataRole.DisplayRole:
            if section == RESULT:
                return tr("With {strategy}", strategy=strategy_name(self.standings.strategy))
            return self._heads[section]
        if orientation == Qt.Orientation.Horizontal and role == Qt.ItemDataRole.ToolTipRole and section == RESULT:
            name = strategy_name(self.standings.strategy)
            return tip(tr("What {name}, the strategy in use, makes of each run", name=name))
        if orientation == Qt.Orientation.Horizontal and role == Qt.ItemDataRole.ToolTipRole and section == ROBOT_SAID:
            return tip(tr("What the robot itself said it read; empty where it said nothing"))
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        row = self.rows[index.row()]
        if isinstance(row, str):
            return row if role == Qt.ItemDataRole.DisplayRole and index.column() == RUN else None
        if role == Qt.ItemDataRole.DisplayRole:
            return self._text(row, index.column())
        if role == Qt.ItemDataRole.ToolTipRole:
            return tip(row.problem or row.remarks or row.path)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            if index.column() == RESULT:
                return result_words(self.standings.of(row), row)
            if index.column() == ROBOT_SAID:
                return robot_words(self.standings.of(row)) or tr("the robot said nothing")
            if index.column() == TRUTH:
                return ", ".join(row.truth or ()) or tr("not entered")
        return None

    @staticmethod
    def _text(entry: Entry, column: int) -> str:
        if column == RUN:
            return entry.title
        if column == WHEN:
            return entry.made[11:16]
        if column == LENGTH:
            return tr("{s:.1f} s", s=entry.seconds) if entry.seconds else tr("{n} samples", n=entry.rows)
        if column == TAGS:
            return ", ".join((*entry.tags, *((tr("simulated"),) if entry.simulated else ())))
        return entry.course if column == COURSE else ""


def result_words(standing: Standing | None, entry: Entry) -> str:
    """Sign and words, never a colour alone."""
    if entry.state == "capturing":
        return tr("● recording")
    if standing is None:
        return "…"
    return {
        "right": tr("✓ right"),
        "wrong": tr("✗ {n} wrong", n=standing.wrong),
        "early": tr("◔ ended early"),
        "open": tr("? enter colours"),
        "silent": tr("– does not apply"),
        "damaged": tr("! damaged"),
    }[standing.kind]


def robot_words(standing: Standing | None) -> str:
    """How the robot's own readings stand, in sign and words; empty where it said none."""
    if standing is None:
        return ""
    right, wrong = tr("✓ right"), tr("✗ {n} wrong", n=standing.robot_wrong)
    return {"right": right, "wrong": wrong}.get(standing.robot, "")


def by_session(entries: Sequence[Entry]) -> list[Entry | str]:
    """The same with a heading before the runs of each session, which ends at a long pause or with the day."""
    sessions: list[list[Entry]] = []
    last: datetime | None = None
    for entry in entries:
        made = _made(entry)
        apart = made is None or last is None or made.date() != last.date() or abs(last - made) > PAUSE
        if not sessions or (apart and not (made is None and last is None)):
            sessions.append([])
        sessions[-1].append(entry)
        last = made
    out: list[Entry | str] = []
    for session in sessions:
        out += [_heading(session), *session]
    return out


def _made(entry: Entry) -> datetime | None:
    try:
        return datetime.fromisoformat(entry.made)
    except ValueError:
        return None


@lru_cache(maxsize=1024)
def _day(day: date) -> str:
    return day.strftime("%A, %d %B %Y").replace(" 0", " ")


def _heading(session: Sequence[Entry]) -> str:
    newest, oldest = _made(session[0]), _made(session[-1])
    if newest is None or oldest is None:
        return tr("No date · {runs}", runs=runs(len(session)))
    day = _day(newest.date())
    first, last = session[-1].made[11:16], session[0].made[11:16]
    span = first if first == last else f"{first} – {last}"
    return tr("{day} · {span} · {runs}", day=day, span=span, runs=runs(len(session)))
