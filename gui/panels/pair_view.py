"""Two runs one above the other, aligned by the distance driven, moved and read together."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from gui.model.messages import Messages
from gui.model.opened_run import OpenedRun
from gui.model.selection import Selection
from gui.model.series import SPEED, TIME, WAY
from gui.panels.flow import FlowLayout
from gui.panels.key_host import Key, KeyHost
from gui.panels.keys import plots
from gui.panels.parts import Card, Label, button, scrolled
from gui.plots.equal_scales import with_equal_scales
from gui.plots.stack import StripStack
from gui.plots.standard import lanes_for, readable_px, strips_for
from gui.theme import GAP_PX, Theme
from gui.words import tr


class PairView(KeyHost):
    """What moves in one of the two moves in the other, on equal scales; the cursors stand at the same distance (or time)."""

    closed = Signal()

    def __init__(
        self, runs: tuple[OpenedRun, OpenedRun], selection: Selection, messages: Messages, theme: Theme
    ) -> None:
        super().__init__()
        self.runs = runs
        self._moving = False
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP_PX)
        self.axis_button = button(tr("By time"), self.toggle_axis, key="Ctrl+T")
        self.axis_button.setCheckable(True)
        back = button(tr("← All runs"), self.closed.emit, kind="quiet", hint=tr("Back to the list (Esc)"))
        whole = button(tr("Whole runs"), self.show_whole, key="Ctrl+0")
        column.addLayout(FlowLayout(back, Label(tr("Two runs by distance"), "large"), self.axis_button, whole))
        self.stacks: list[StripStack] = []
        for run in runs:
            card = Card()
            meta = run.recording.meta
            title = QHBoxLayout()
            title.addWidget(Label(meta.name or run.path.stem, "large"))
            if meta.simulated:
                title.addWidget(Label(tr("simulated"), "chip"))
            truth = ", ".join(run.recording.truth or ()) or tr("colours not entered")
            said = Label(truth, "soft")
            said.setMinimumWidth(20)
            title.addWidget(said, 1)
            card.add(title)
            specs = with_equal_scales(
                [spec for spec in strips_for(run.series.channels) if spec.traces[0].channel not in ("dist", "speed", SPEED)],
                [one.series for one in runs],
            )
            stack = StripStack(specs, lanes_for(run.series.channels, run.names, selection.book), theme)
            stack.set_series(run.series, live=False)
            stack.set_axis(WAY)
            stack.flags = messages.attempt(lambda run=run: run.flags(selection.strategy)) or []  # type: ignore[misc]
            stack.setMinimumHeight(readable_px(stack))
            card.add(stack, stretch=1)
            column.addWidget(card, 1)
            self.stacks.append(stack)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scrolled(inside))
        for mine, other in (self.stacks, self.stacks[::-1]):
            mine.view_changed.connect(lambda mine=mine, other=other: self._follow_view(mine, other))
            mine.cursor_moved.connect(lambda row, mine=mine, other=other: self._follow_cursor(row, mine, other))
        self.show_whole()
        self.set_keys(
            Key("Ctrl+T", tr("over distance or over time"), self.toggle_axis),
            Key("Ctrl+0", tr("the whole runs"), self.show_whole),
            Key("Escape", tr("back to the list"), self.closed.emit),
            *plots(),
        )

    def homes(self) -> list[QWidget]:
        """What gets the focus."""
        return [*self.stacks]

    def show_whole(self) -> None:
        """Both from their begin to the end of the longer one."""
        longer = max(self.stacks, key=StripStack.whole)
        longer.show_whole()

    def toggle_axis(self) -> None:
        axis = TIME if self.stacks[0].view.axis == WAY else WAY
        for stack in self.stacks:
            stack.set_axis(axis)
        self.axis_button.setChecked(axis == TIME)
        self.show_whole()

    def _follow_view(self, mine: StripStack, other: StripStack) -> None:
        other.set_view(mine.view.span, mine.view.end)

    def _follow_cursor(self, row: int, mine: StripStack, other: StripStack) -> None:
        if self._moving:
            return
        self._moving = True
        if row < 0:
            other.set_cursor(-1)
        else:
            axis = mine.view.axis
            other.set_cursor(other.series.row_at(axis, float(mine.series.axis(axis)[row])))
        self._moving = False

    def stop(self) -> None:
        """Nothing runs here."""

    def set_theme(self, theme: Theme) -> None:
        for stack in self.stacks:
            stack.set_theme(theme)
