"""Live: what the sensor sees now, what has been read so far, where the robot is, and how the link does."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton, QScrollArea, QWidget

from gui.copying import copy_picture, copy_table
from gui.model.channels import Names
from gui.model.first_connection import FirstConnection
from gui.model.live_run import LiveRun
from gui.model.series import TIME, WAY, Flag
from gui.model.strategy_name import strategy_name
from gui.model.workspace import Workspace
from gui.panels.big_swatch import BigSwatch
from gui.panels.choice import ChoiceBox
from gui.panels.columns import Columns
from gui.panels.flow import FlowLayout
from gui.panels.key_host import Key
from gui.panels.keys import plots
from gui.panels.link_health import LinkHealthCard
from gui.panels.parts import RECORD_KEY, Card, Label, button, column_of_cards, scrolled, shown_key, side_column
from gui.panels.readings_list import ReadingsList
from gui.places.place import Place
from gui.plots.course_map import CourseMap, SlotState
from gui.plots.stack import StripStack
from gui.plots.standard import lanes_for, strips_for
from gui.theme import Theme
from gui.words import tr
from telemetry.replay.readings import Taken

if TYPE_CHECKING:
    from gui.panels.arriving_dialog import ArrivingDialog

LEFT_PX, LEAST_PLOTS_PX = 336, 350
FIGURES_EVERY = 12
"""Everything but plots and swatch is refreshed at every twelfth arrival at most: about 10 times a second."""


def slot_states(taken: Taken) -> list[SlotState]:
    """Readings as the map shows them."""
    return [
        SlotState(reading.colour, reading.how if reading.how in ("inferred", "assumed") else "") for reading in taken.slots
    ]


def motion_words(*, moving: bool, drove_s: float, read: int, slots: int, recording: bool) -> str:
    """Whether the robot drives, and when the run is over, how long it took and what came of it."""
    if moving:
        return tr("● Driving, {s:.0f} s", s=drove_s)
    if not drove_s:
        return tr("■ At rest")
    if recording:
        return tr("■ Run over: {key} keeps it", key=shown_key(RECORD_KEY))
    return tr("■ Run over, {s:.1f} s: {read} of {all} read", s=drove_s, read=read, all=slots)


class LivePlace(Place):
    """Follows the robot link of the workspace."""

    name = "live"

    def __init__(self, workspace: Workspace, parent: QWidget | None = None) -> None:
        super().__init__(workspace, parent)
        course, book, theme = workspace.selection.course, workspace.selection.book, workspace.theme
        self.swatches = [BigSwatch(book, theme) for _ in course.sensors]
        self.map = CourseMap(course, book, theme)
        self.map.setMinimumHeight(190)
        self.readings = ReadingsList(course, book, theme)
        self.health = LinkHealthCard()
        self.stack = StripStack(strips_for(("refl", "red", "green", "blue", "heading", "dist")),
                                lanes_for(("colour", "red"), Names(("none",), ("none",)), book), theme)  # fmt: skip
        self._layout_key: tuple[object, ...] = ()
        self._count = 0
        self.column.addWidget(scrolled(Columns(self._left(), self._right(), LEAST_PLOTS_PX)), 1)
        self.arriving: ArrivingDialog | None = None
        self.first = FirstConnection(workspace.follow, workspace.robots, workspace.messages, self)
        self.first.not_understood.connect(self.show_arriving)
        follow = workspace.follow
        follow.begun.connect(self._begin)
        follow.grew.connect(self._grew)
        follow.silent.connect(self._silent)
        follow.state_changed.connect(self._show_state)
        workspace.selection.course_changed.connect(self._course_changed)
        workspace.selection.strategy_changed.connect(self._show_strategy)
        self.set_keys(
            Key("Space", tr("freeze, or follow again"), self.toggle_freeze),
            Key("Ctrl+T", tr("over time or over distance"), self.toggle_axis),
            Key("Ctrl+M", tr("mark this moment"), self.mark),
            Key("Ctrl+C", tr("copy the plots as a picture"), self._copy_picture),
            Key("Ctrl+Shift+C", tr("copy the samples in view as a table"), self._copy_table),
            *plots(),
        )
        if follow.run is not None:
            self._begin()

    # -- building -----------------------------------------------------------------------------------------------------

    def _left(self) -> QScrollArea:
        inside = QWidget()
        column = column_of_cards(inside)
        eye = Card()
        for swatch in self.swatches:
            eye.add(swatch)
        self.motion = Label(motion_words(moving=False, drove_s=0.0, read=0, slots=0, recording=False), "eyebrow")
        eye.add(self.motion)
        self.eye = eye
        column.addWidget(eye)
        place = Card()
        place.add(self.map, stretch=1)
        column.addWidget(place, 1)
        read = Card(tr("Read so far"))
        self.strategy = ChoiceBox(tr("Strategy for live readings"))
        self.strategy.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.strategy.setMinimumContentsLength(9)
        self._fill_strategies()
        self.strategy.activated.connect(self._choose_strategy)
        read.head.addWidget(self.strategy)
        self.reading_error = Label("", "small", wrap=True)
        self.reading_error.hide()
        read.add(self.readings, self.reading_error)
        column.addWidget(read)
        self.arrives_button = button(tr("What arrives…"), self.show_arriving, kind="quiet",
                                     hint=tr("The robot's lines as they come, and what their columns are"))  # fmt: skip
        self.health.head.addWidget(self.arrives_button)
        column.addWidget(self.health)
        return side_column(inside, LEFT_PX)

    def _right(self) -> QWidget:
        card = Card()
        self.freeze_button: QPushButton = button(tr("Freeze"), self.toggle_freeze, key="Space",
                                                 hint=tr("Hold the picture while the run goes on"))  # fmt: skip
        self.freeze_button.setCheckable(True)
        self.axis_button = button(
            tr("By distance"), self.toggle_axis, key="Ctrl+T", hint=tr("Along the way driven, or along time")
        )
        self.axis_button.setCheckable(True)
        self.mark_button = button(tr("Mark"), self.mark, key="Ctrl+M", hint=tr("Mark this moment; it is kept with the run"))
        self.keep_button = button(tr("Save last minute"), self._keep_last, hint=tr("Nobody pressed Record? Keep it anyway"))
        self.stop_button = button(tr("Disconnect"), self._disconnect, kind="quiet")
        card.add(FlowLayout(self.freeze_button, self.axis_button, self.mark_button, self.keep_button, self.stop_button))
        card.add(self.stack, stretch=1)
        self.plot_card = card
        self.stack.let_go.connect(lambda: self._show_frozen(True))
        return card

    def homes(self) -> list[QWidget]:
        return [self.stack, self.freeze_button]

    # -- following ----------------------------------------------------------------------------------------------------

    @property
    def run(self) -> LiveRun | None:
        return self.workspace.follow.run

    def entered(self, what: object = None) -> None:
        del what
        self._show_strategy()
        self._show_state()

    def _begin(self) -> None:
        run = self.run
        assert run is not None
        self._layout_key = ()
        self._thinned, self._looked_at = 0, -1
        self._show_frozen(False)
        self.stack.freeze(False)
        self.stack.set_series(run.series, live=True)
        self.stack.empty_text = tr("Waiting for the first line …")

    def _grew(self, _new: int) -> None:
        run = self.run
        if run is None or not self.isVisible():
            return
        key = (tuple(run.series.channels), run.names)
        if key != self._layout_key:
            self._layout_key = key
            self._rebuild_stack(run)
        if self._thinned != run.series.thinning.times:  # the sample looked at is elsewhere now
            self._thinned = run.series.thinning.times
            self.stack.set_cursor(-1 if self._looked_at < 0 else run.series.index_of(self._looked_at))
        self._looked_at = -1 if self.stack.cursor_row < 0 else run.series.thinning.row_of(self.stack.cursor_row)
        self.stack.advance()
        self._count += 1
        self._show_eye(run)
        if self._count % FIGURES_EVERY == 0:
            self._show_figures(run)

    def _rebuild_stack(self, run: LiveRun) -> None:
        """Another header: other strips, other colours."""
        old = self.stack
        view = old.view
        lanes = lanes_for(run.series.channels, run.names, self.workspace.selection.book)
        stack = StripStack(strips_for(run.series.channels), lanes, self.workspace.theme)
        stack.let_go.connect(lambda: self._show_frozen(True))
        self.plot_card.column.replaceWidget(old, stack)
        focused = old.hasFocus()
        old.hide()
        old.deleteLater()
        self.stack = stack
        stack.view.live_span = view.live_span
        stack.set_series(run.series, live=True)
        stack.set_axis(view.axis)
        if not view.live:
            stack.freeze(True)
        if focused:
            stack.setFocus()

    def _show_eye(self, run: LiveRun) -> None:
        seen = run.seen
        for swatch, sensor in zip(self.swatches, self.workspace.selection.course.sensors, strict=False):
            colour = seen.get(sensor.name)
            swatch.show_colour(colour, sensor.name, self._detail(run))

    @staticmethod
    def _detail(run: LiveRun) -> str:
        decided = [reading for reading in run.taken.slots if reading.colour is not None]
        if not decided:
            return ""
        last = max(decided, key=lambda reading: reading.row or 0)
        sure = tr(", {sure:.0f} % sure", sure=100 * last.confidence) if last.confidence is not None else ""
        return tr("last read: {colour}{sure}", colour=last.colour, sure=sure)

    def _show_figures(self, run: LiveRun) -> None:
        taken = run.taken
        self.readings.show_readings(taken)
        read = sum(one.colour is not None for one in taken.slots)
        self.motion.say(motion_words(moving=run.moving, drove_s=run.drove_s, read=read, slots=len(taken.slots),
                                     recording=self.workspace.follow.recording))  # fmt: skip
        self.map.set_states(slot_states(taken))
        x, y = run.series.path_cm
        heading = run.series.channel("heading")
        angle = float(heading[-1]) if heading is not None and len(heading) else 0.0
        begin = min(run.series.index_of(run.from_row), max(len(x) - 1, 0))
        if len(x):
            self.map.set_trail(x[begin:] - x[begin], y[begin:] - y[begin], 0.0 if math.isnan(angle) else angle)
        self.reading_error.say(run.reading_error)
        self.reading_error.setVisible(bool(run.reading_error))
        flags = [Flag(note.row, note.text) for note in run.table.notes[-200:] if not note.text.startswith("read,")]
        slots = self.workspace.selection.course.slots
        for row, reading in run.readings:
            name = slots[reading.slot].name if reading.slot is not None else tr("surplus")
            flags.append(Flag(row, f"{name} {reading.colour or '–'}", "read"))
        flags += [Flag(row, text, "mark") for row, text in run.marks]
        self.stack.flags = sorted(flags, key=lambda flag: flag.row)
        latest = float(run.series.time_s[-1]) if run.series.rows else 0.0
        self.stack.setAccessibleDescription(tr("{rows} samples, {seconds:.1f} s", rows=run.series.taken, seconds=latest))

    def _silent(self, seconds: float) -> None:
        if self.isVisible():
            self.stack.advance(seconds)

    def _show_state(self) -> None:
        follow = self.workspace.follow
        if not follow.connected:
            self.closing()
        if not self.isVisible():
            return
        run = self.run
        self.stop_button.setEnabled(follow.connected)
        if run is None or not follow.connected:
            self.motion.say("")
        self.arrives_button.setEnabled(follow.connected and run is not None)
        self.mark_button.setEnabled(follow.connected)
        self.keep_button.setEnabled(follow.connected and not follow.recording)
        if run is not None and follow.connected:
            self.health.show_health(run.health, run.silence_s, run.health.budget)
            self._show_figures(run)
        elif run is not None:
            self.health.show_ended()
            if self.stack.silent:
                self.stack.advance()  # nobody waits any more
        if not follow.connected and run is None:
            self.stack.empty_text = tr("No robot is connected. Choose one under Start.")
            self.stack.update()

    # -- what the user does -------------------------------------------------------------------------------------------

    def toggle_freeze(self) -> None:
        """Hold the picture, or follow again."""
        frozen = self.stack.view.live
        self.stack.freeze(frozen)
        self._show_frozen(frozen)

    def _show_frozen(self, frozen: bool) -> None:
        self.freeze_button.setChecked(frozen)
        words = tr("Follow") if frozen else tr("Freeze")
        self.freeze_button.setText(f"{words}   [{tr('Space')}]")
        self.freeze_button.setAccessibleName(words)

    def toggle_axis(self) -> None:
        axis = WAY if self.stack.view.axis == TIME else TIME
        self.stack.set_axis(axis)
        self.axis_button.setChecked(axis == WAY)

    def mark(self) -> None:
        """Mark this moment."""
        if self.workspace.follow.connected:
            self.workspace.follow.mark()

    def _keep_last(self) -> None:
        path = self.workspace.follow.keep_last(60.0)
        if path is not None:
            self.workspace.go("record", path)

    def show_arriving(self) -> None:
        """The lines as they come, and their columns to name."""
        from gui.panels.arriving_dialog import ArrivingDialog

        watch = self.workspace.follow.watch
        if watch is None or not watch.journal.exists() or (self.arriving is not None and self.arriving.isVisible()):
            return
        dialog = self.workspace.messages.attempt(lambda: ArrivingDialog(watch.journal, self))
        if dialog is not None:
            self.arriving = dialog
            dialog.chosen.connect(self._name_columns)
            dialog.show()

    def _name_columns(self, columns: str) -> None:
        """The robot is connected anew, its columns going by these names."""
        workspace, before = self.workspace, self.workspace.settings.text("columns")
        workspace.choices.change(
            tr("names of the columns"),
            lambda: workspace.follow.use_columns(columns),
            lambda: workspace.follow.use_columns(before),
        )
        words = tr("The columns go by these names from now on: {names}", names=columns.replace(",", ", "))
        workspace.messages.tell(words, action=tr("Undo"), does=workspace.undo.undo, cause="undo")

    def closing(self) -> None:
        if self.arriving is not None:
            self.arriving.close()

    def _disconnect(self) -> None:
        self.workspace.follow.disconnect_robot()
        self.workspace.messages.tell(tr("Disconnected. Recorded runs are under Runs."))

    def _fill_strategies(self) -> None:
        from telemetry.reading.strategies import STRATEGIES

        self.strategy.clear()
        for spec in self.workspace.selection.own_strategies:
            self.strategy.addItem(strategy_name(spec), spec)
        for name, strategy in STRATEGIES.items():
            self.strategy.addItem(name, name)
            self.strategy.setItemData(self.strategy.count() - 1, strategy.what, Qt.ItemDataRole.ToolTipRole)

    def _choose_strategy(self, index: int) -> None:
        self.workspace.choices.strategy(self.strategy.itemData(index))

    def _show_strategy(self) -> None:
        self._fill_strategies()
        name = self.workspace.selection.strategy
        at = self.strategy.findData(name)
        if at >= 0:
            self.strategy.setCurrentIndex(at)

    def _course_changed(self) -> None:
        course, book = self.workspace.selection.course, self.workspace.selection.book
        self.map.book = book
        self.map.set_course(course)
        self.readings.set_course(course, book)
        for swatch in self.swatches:
            swatch.deleteLater()
        self.swatches = [BigSwatch(book, self.workspace.theme) for _ in course.sensors]
        for number, swatch in enumerate(self.swatches):
            self.eye.column.insertWidget(number, swatch)
        self._layout_key = ()

    def _copy_picture(self) -> None:
        copy_picture(self.stack)
        self.workspace.messages.tell(tr("The plots are on the clipboard as a picture."))

    def _copy_table(self) -> None:
        rows = copy_table(self.stack)
        self.workspace.messages.tell(tr("{rows} samples are on the clipboard as a table.", rows=rows))

    def set_theme(self, theme: Theme) -> None:
        self.stack.set_theme(theme)
        self.map.set_theme(theme)
        self.readings.set_theme(theme)
        for swatch in self.swatches:
            swatch.set_theme(theme)
