"""'How many runs do I need?', answered for the runs there are and for the failure rate one is ready to live with."""

from __future__ import annotations

from PySide6.QtWidgets import QProgressBar, QWidget

from gui.panels.choice import ChoiceBox
from gui.panels.parts import Card, Label, row
from gui.words import tr
from telemetry.replay.scoring.statistics import failures_at_most, runs_needed, wilson

RATES = (0.10, 0.05, 0.02, 0.01)


class RunsNeeded(Card):
    """``show_runs(right, runs, strategy)``: how many were read right so far."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(tr("How many runs?"), parent=parent)
        self.rate = ChoiceBox(tr("How many runs may fail"))
        for rate in RATES:
            self.rate.addItem(tr("at most {rate:.0f} % may fail", rate=100 * rate), rate)
        self.rate.setCurrentIndex(1)
        self.rate.activated.connect(lambda _index: self._show())
        self.bar = QProgressBar()
        self.bar.setAccessibleName(tr("Runs recorded of those needed"))
        self.words = Label("", "soft", wrap=True)
        self.add(row(self.rate, None), self.bar, self.words)
        self._right, self._runs, self._strategy = 0, 0, ""
        self._show()

    def show_runs(self, right: int, runs: int, strategy: str) -> None:
        if (right, runs, strategy) != (self._right, self._runs, self._strategy):
            self._right, self._runs, self._strategy = right, runs, strategy
            self._show()

    def _show(self) -> None:
        rate = float(self.rate.currentData())
        needed = runs_needed(rate)
        failed = self._runs - self._right
        self.bar.setMaximum(needed)
        self.bar.setValue(min(self._runs, needed))
        self.bar.setFormat(tr("{runs} of {needed} runs", runs=self._runs, needed=needed))
        if not self._runs:
            words = tr("{needed} runs without one failure show it with 95 % certainty.", needed=needed)
        elif not failed:
            most = failures_at_most(self._runs) or 1.0
            words = tr(
                "{strategy}: {runs} of {runs} right. With 95 % certainty at most {most:.0f} % of all runs would fail.",
                strategy=self._strategy,
                runs=self._runs,
                most=100 * most,
            )
        else:
            interval = wilson(self._right, self._runs) or (0.0, 1.0)
            words = tr(
                "{strategy}: {right} of {runs} right, so between {low:.0f} and {high:.0f} % would be (95 %).",
                strategy=self._strategy,
                right=self._right,
                runs=self._runs,
                low=100 * interval[0],
                high=100 * interval[1],
            )
        self.words.say(words)
