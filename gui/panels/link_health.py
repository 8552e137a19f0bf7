"""The link to the robot at a glance: a stutter or a drop must be seen without looking for it."""

from __future__ import annotations

from PySide6.QtWidgets import QGridLayout, QWidget

from gui.model.live_run import Health
from gui.panels.parts import Card, Label, row, set_kind
from gui.words import tr

GAP_WARN_MS = 150.0


class LinkHealthCard(Card):
    """Figures of the link; the whole card changes its look, and says so, when something is wrong."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(tr("Link"), parent=parent)
        self.state = Label(tr("quiet"), "chip")
        self.add(row(self.state, None))  # beside the head's button, its longest words would have no room
        grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(2)
        self._figures: dict[str, Label] = {}
        for number, (key, words) in enumerate(
            (("rate", tr("lines/s")), ("lost", tr("lost")), ("jitter", tr("jitter ms")), ("gap", tr("gap ms")))
        ):
            figure = Label("–", "large")
            self._figures[key] = figure
            grid.addWidget(figure, 0, number)
            grid.addWidget(Label(words, "small"), 1, number)
        self.add(grid)
        self.remark = Label("", "small", wrap=True)
        self.add(self.remark)
        self.remark.hide()

    def show_ended(self) -> None:
        """Nobody is connected any more; the figures are the last ones."""
        set_kind(self, "warn")
        self.state.say(tr("! ended"))

    def show_health(self, health: Health, silence_s: float, remark: str = "") -> None:
        """``silence_s``: how long nothing has come."""
        self._figures["rate"].say(f"{health.lines_per_s:.0f}")
        self._figures["lost"].say(str(health.lost))
        self._figures["jitter"].say(f"{health.jitter_ms:.1f}")
        self._figures["gap"].say(f"{health.gap_ms:.0f}")
        if silence_s > 0.4:
            kind, words = "bad", tr("✗ nothing for {seconds:.1f} s", seconds=silence_s)
        elif health.gap_ms > GAP_WARN_MS:
            kind, words = "warn", tr("! it stutters")
        else:
            kind, words = "card", tr("✓ steady")
        set_kind(self, kind)
        self.state.say(words)
        self.remark.say(remark)
        self.remark.setVisible(bool(remark))
        self.setAccessibleDescription(f"{words}; {health.lines_per_s:.0f} {tr('lines/s')}, {health.lost} {tr('lost')}")
