"""One cell of the matrix in words. Its height never changes, so that nothing moves while one goes from cell to cell."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtWidgets import QWidget

from gui.panels.parts import Card, Label, button, scrolled
from gui.words import tr

WHY_PX = 132


class CellCard(Card):
    """``words``: which run, which strategy, what came of it; ``why``: the reasons."""

    def __init__(self, opens: Callable[[], object], parent: QWidget | None = None) -> None:
        super().__init__(tr("Chosen cell"), parent=parent)
        self.words = Label("", wrap=True)
        self.words.setMinimumHeight(2 * self.words.fontMetrics().lineSpacing() + 4)
        self.why = Label("", "soft", wrap=True)
        self.open_button = button(tr("Open this run"), opens, kind="chief", key="Return")
        area = scrolled(self.why, tr("Why"))
        area.setFixedHeight(WHY_PX)
        self.add(self.words, area, self.open_button)
        self.say(tr("Choose a cell of the table."), ())
        self.open_button.setEnabled(False)

    def say(self, words: str, why: Sequence[str]) -> None:
        self.words.say(words)
        self.why.say("\n".join(why))
        self.open_button.setText(f"{tr('Go to the failure') if why else tr('Open this run')}   [Return]")
