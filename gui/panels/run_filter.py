"""Which runs are listed: by words, result, strategy, day, tag and course."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QLineEdit, QVBoxLayout, QWidget

from gui.model.standings import Standings
from gui.model.strategy_name import strategy_name
from gui.panels.choice import ChoiceBox
from gui.panels.flow import FlowLayout
from gui.panels.parts import Label
from gui.words import runs, tr
from telemetry.recording.library import Entry, search

SEARCH_PX = 150
LETTERS = 6
"""So wide is a choice; what is longer is cut short, and whole in the list that opens."""
STRATEGY_LETTERS = 15
"""The strategy is never cut: the results of the list are what it makes of the runs."""


class RunFilter(QWidget):
    """``changed``: other runs fit. ``strategy_chosen``: results are asked for with another strategy."""

    changed = Signal()
    strategy_chosen = Signal(str)

    def __init__(
        self, standings: Standings, strategies: Sequence[str], strategy: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.standings = standings
        self.search = QLineEdit()
        self.search.setPlaceholderText(tr("Search  [Ctrl+F]"))
        self.search.setAccessibleName(tr("Search name, remarks and program"))
        self.search.setClearButtonEnabled(True)
        self.search.setFixedWidth(SEARCH_PX)
        self.search.textChanged.connect(lambda _text: self.changed.emit())
        self.result = ChoiceBox(tr("Result"))
        for words, kind in ((tr("any result"), ""), (tr("✓ right"), "right"), (tr("✗ wrong"), "wrong"),
                            (tr("◔ ended early"), "early"), (tr("? colours not entered"), "open"),
                            (tr("– does not apply"), "silent"), (tr("! damaged"), "damaged"),
                            (tr("✓ robot right"), "robot right"), (tr("✗ robot wrong"), "robot wrong")):  # fmt: skip
            self.result.addItem(words, kind)
        self.strategy = ChoiceBox(tr("Read with"))
        for name in strategies:
            self.strategy.addItem(tr("with {strategy}", strategy=name), name)
        self.show_strategy(strategy)
        self.strategy.activated.connect(lambda _index: self.strategy_chosen.emit(str(self.strategy.currentData())))
        self.day, self.tag, self.course = ChoiceBox(tr("Day")), ChoiceBox(tr("Tag")), ChoiceBox(tr("Course"))
        for choice in (self.result, self.day, self.tag, self.course):
            choice.activated.connect(lambda _index: self.changed.emit())
        for choice in (self.result, self.strategy, self.day, self.tag, self.course):
            choice.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
            choice.setMinimumContentsLength(LETTERS)
        self.strategy.setMinimumContentsLength(STRATEGY_LETTERS)
        self.count = Label("", "soft")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(FlowLayout(self.search, self.result, self.strategy, self.day, self.tag, self.course, self.count))

    def show_strategy(self, name: str) -> None:
        """The strategy in use has become another, perhaps one from a file."""
        if self.strategy.findData(name) < 0:
            self.strategy.addItem(tr("with {strategy}", strategy=strategy_name(name)), name)
        self.strategy.setCurrentIndex(max(self.strategy.findData(name), 0))

    @property
    def by_result(self) -> bool:
        """Whether the results of all runs must be known to filter them."""
        return bool(self.result.currentData())

    def offer(self, entries: Sequence[Entry]) -> None:
        """The days, tags and courses of these runs can be chosen; what was chosen stays."""
        days = sorted({entry.made[:10] for entry in entries if entry.made}, reverse=True)
        for choice, first, found in (
            (self.day, tr("any day"), [(_day(day), day) for day in days]),
            (self.tag, tr("any tag"), [(tag, tag) for tag in sorted({tag for entry in entries for tag in entry.tags})]),
            (
                self.course,
                tr("any course"),
                [(one, one) for one in sorted({entry.course for entry in entries if entry.course})],
            ),
        ):
            now = [(choice.itemText(at), choice.itemData(at)) for at in range(1, choice.count())]
            if choice.count() and now == found:
                continue
            chosen = choice.currentData()
            choice.clear()
            choice.addItem(first, "")
            for words, value in found:
                choice.addItem(words, value)
            choice.setCurrentIndex(max(choice.findData(chosen), 0))
            choice.setVisible(len(found) > 1 or choice.currentIndex() > 0)

    def fitting(self, entries: Sequence[Entry]) -> list[Entry]:
        """Those that fit all that is asked."""
        day = self.day.currentData() or ""
        found = search(entries, course=self.course.currentData() or "", tag=self.tag.currentData() or "", since=day,
                       until=day, text=self.search.text().strip())  # fmt: skip
        kind = self.result.currentData()
        if kind:
            of = self.standings.of
            found = [entry for entry in found if (one := of(entry)) and kind in (one.kind, f"robot {one.robot}")]
        return found

    def say_count(self, shown: int, of: int) -> None:
        self.count.say(tr("{shown} of {all}", shown=shown, all=runs(of)) if shown != of else runs(of))


def _day(iso: str) -> str:
    try:
        return date.fromisoformat(iso).strftime("%a %d %b %Y").replace(" 0", " ")
    except ValueError:
        return iso
