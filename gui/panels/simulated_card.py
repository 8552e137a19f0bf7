"""The simulated robot on the start page: how hard it is to read, where it drives, and the button that starts it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

from gui.panels.choice import ChoiceBox
from gui.panels.parts import Card, Label, button, row
from gui.words import tr


class SimulatedCard(Card):
    """``start`` starts it; ``choose`` takes the course that it is to drive on: row, two or back."""

    def __init__(
        self, start: Callable[[], object], choose: Callable[[str], object], variant: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(tr("Simulated robot"), parent=parent)
        self.head.addWidget(Label(tr("simulated"), "chip"))
        self.add(Label(tr("Needs no cable. It drives down Orchard Row and sends what a real robot would."), wrap=True))
        self.level = ChoiceBox(tr("How hard to read"))
        for level, words, hint in (
            ("practice", tr("practice"), tr("home light, slow, everything fine")),
            ("venue", tr("venue"), tr("other light, the sensor higher, faster")),
            ("slipping", tr("slipping"), tr("the distance wrong by up to 12 %")),
            ("extreme", tr("extreme"), tr("colours worn, fast, gaps")),
        ):
            self.level.addItem(words, level)
            self.level.setItemData(self.level.count() - 1, hint, Qt.ItemDataRole.ToolTipRole)
        self.level_words = Label("", "small", wrap=True)
        self.level.currentIndexChanged.connect(lambda _index: self._show_level())
        self._show_level()
        self.drive_button = button(tr("Start it"), start, kind="chief", hint=tr("Starts it and shows it live"))
        steps = Label(
            tr("1  Watch the colours go by under Live.\n2  Press Record, and again to end the run.\n"
               "3  Enter the actual colours, and read the verdict."),
            "soft", wrap=True,
        )  # fmt: skip
        self.variant = ChoiceBox(tr("Which course"))
        known = {"row": tr("Orchard Row"), "two": tr("with two sensors"), "back": tr("with a leg backwards")}
        for name, words in known.items():
            self.variant.addItem(words, name)
        self.show_variant(variant)
        self.variant.activated.connect(lambda _index: choose(self.variant.currentData()))
        for choice in (self.level, self.variant):
            choice.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
            choice.setMinimumContentsLength(8)
        both = row(self.level, self.variant)
        both.setStretch(0, 1)
        both.setStretch(1, 1)
        self.add(both, self.level_words, self.drive_button, steps)
        self.column.addStretch(1)

    def show_variant(self, variant: str) -> None:
        """The course that it would drive on."""
        self.variant.setCurrentIndex(max(self.variant.findData(variant), 0))

    def _show_level(self) -> None:
        self.level_words.say(str(self.level.currentData(Qt.ItemDataRole.ToolTipRole) or ""))
