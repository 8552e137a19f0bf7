"""An opened run: its plots, what a strategy read and why, stepped through sample by sample or played."""

from __future__ import annotations

import math

from PySide6.QtCore import QPoint, Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QScrollArea, QSplitter, QVBoxLayout, QWidget

from gui.copying import copy_picture, copy_table
from gui.model.answer import answer
from gui.model.jobs import Job, Jobs
from gui.model.messages import Messages
from gui.model.opened_run import Log, OpenedRun
from gui.model.selection import Selection
from gui.model.series import TIME, WAY
from gui.model.strategy_name import strategy_name
from gui.model.verdicts import RunResults, verdict_on
from gui.panels.answer_band import AnswerBand
from gui.panels.big_swatch import BigSwatch
from gui.panels.choice import ChoiceBox
from gui.panels.columns import Columns
from gui.panels.flow import FlowLayout
from gui.panels.key_host import Key, KeyHost
from gui.panels.keys import plots
from gui.panels.parts import Card, Label, button, column_of_cards, scrolled, side_column
from gui.panels.player import Player
from gui.panels.readings_list import ReadingsList, verdict_of
from gui.panels.run_heading import run_heading
from gui.panels.stages_at import StagesAt
from gui.panels.verdict_table import VerdictTable, cause_words
from gui.plots.course_map import CourseMap, SlotState
from gui.plots.stack import StripStack
from gui.plots.standard import lanes_for, readable_px, strips_for
from gui.theme import GAP_PX, Theme
from gui.words import tr
from telemetry.replay.evaluate import Evaluator
from telemetry.replay.scoring.score import Outcome

LEFT_PX = 326
BELOW_PX, AROUND_PX = 176, 74
"""Room for what is below the plots, and for the buttons above them; where the window is lower, the page scrolls."""
TABLE_PX = 224
"""Room for the longest name and its verdict."""
CLOSE_UP_S = 2.0
WENT_WRONG = "went wrong"
"""The cause of the message on who read this run and who did not: it goes with the run and with who is looked at."""


class RunView(KeyHost):
    """One run. ``closed``: back to the list."""

    closed = Signal()
    next_wanted = Signal()
    truth_wanted = Signal()
    """The actual colours are to be entered."""
    wanted = Signal(str)
    """A place where the remedy is."""
    judged = Signal(object)
    """How the strategies read the run, as RunResults."""

    def __init__(
        self, run: OpenedRun, *, selection: Selection, messages: Messages, evaluator: Evaluator, theme: Theme
    ) -> None:
        super().__init__()
        self.run = run
        self.selection, self.messages, self.evaluator, self.theme = selection, messages, evaluator, theme
        self.verdict: RunResults | None = None
        self.strategy = selection.strategy
        self._jobs = Jobs()
        book = selection.book
        self.stack = StripStack(strips_for(run.series.channels), lanes_for(run.series.channels, run.names, book), theme)
        self.player = Player(self.stack, self)
        self.stages = StagesAt(book, theme)
        self.table = VerdictTable()
        self.why = Label("", wrap=True)
        self.why.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.band = AnswerBand()
        self.band.wanted.connect(self._remedy)
        self._fill_top()
        inside = self._inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP_PX)
        column.addWidget(self.band)
        left, right = self._left(), self._right()
        column.addWidget(Columns(left, right, right.minimumHeight()), 1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        self._page = scrolled(inside)
        outer.addWidget(self._page)
        self.stack.set_series(run.series, live=False)
        self.stack.cursor_moved.connect(self._show_row)
        self.set_keys(
            Key("Space", tr("play, or stop"), self.player.toggle),
            Key("Return", tr("next run"), self.next_wanted.emit),
            Key("F3", tr("go to the sample where it went wrong, and to the next"), self.show_failure),
            Key("Ctrl+T", tr("over time or over distance"), self.toggle_axis),
            Key("Ctrl+0", tr("the whole run"), self.stack.show_whole),
            Key("Escape", tr("back to the list"), self.closed.emit),
            Key("Ctrl+C", tr("copy the plots as a picture"), self._copy_picture),
            Key("Ctrl+Shift+C", tr("copy the samples in view as a table"), self._copy_table),
            *plots(),
        )
        selection.strategy_changed.connect(self._other_strategy)
        self._judge()
        self.look_at(self.strategy)
        self._show_row(-1)

    # -- building -----------------------------------------------------------------------------------------------------

    def _fill_top(self) -> None:
        """Which run it is, above the verdict."""
        back = button(tr("← All runs"), self.closed.emit, kind="quiet", hint=tr("Back to the list (Esc)"))
        self.band.top.addLayout(FlowLayout(back, *run_heading(self.run)), 1)
        self.next_button = button(tr("Next run"), self.next_wanted.emit, key="Return")
        self.band.top.addWidget(self.next_button, 0, Qt.AlignmentFlag.AlignTop)

    def _left(self) -> QScrollArea:
        inside = QWidget()
        column = column_of_cards(inside)
        course = self.run.recording.course
        self.sensors = [sensor.name for sensor in course.sensors] if course is not None else [""]
        self.map: CourseMap | None = None
        self.readings: ReadingsList | None = None
        if course is not None:
            read = Card(tr("Read"))
            self.choice = ChoiceBox(tr("Strategy"))
            self.choice.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
            self.choice.setMinimumContentsLength(10)
            self.choice.activated.connect(lambda index: self.look_at(self.choice.itemData(index)))
            read.head.addWidget(Label(tr("with"), "small"))
            read.head.addWidget(self.choice)
            self.readings = ReadingsList(course, self.selection.book, self.theme)
            self.readings.slot_chosen.connect(self._go_to_slot)
            read.add(self.readings)
            column.addWidget(read)
            column.addWidget(self._eye())
            self.map = CourseMap(course, self.selection.book, self.theme)
            self.map.setMinimumHeight(170)
            place = Card()
            place.add(self.map, stretch=1)
            column.addWidget(place, 1)
        else:
            note = Card(tr("No course is known"))
            note.add(
                Label(
                    tr("Without a course nothing can be read slot by slot. Give it one with its labels."), "soft", wrap=True
                )
            )
            column.addWidget(note)
            column.addWidget(self._eye())
            column.addStretch(1)
        return side_column(inside, LEFT_PX)

    def _eye(self) -> QWidget:
        """What each sensor saw at the sample looked at."""
        self.swatches = [BigSwatch(self.selection.book, self.theme) for _ in self.sensors]
        eye = Card()
        for swatch in self.swatches:
            swatch.setMaximumHeight(104)
            eye.add(swatch)
        return eye

    def _right(self) -> QWidget:
        card = self._plots = Card()
        self.stack.setMinimumHeight(readable_px(self.stack))
        card.setMinimumHeight(readable_px(self.stack) + BELOW_PX + AROUND_PX)
        self.axis_button = button(tr("By distance"), self.toggle_axis, key="Ctrl+T")
        self.axis_button.setCheckable(True)
        self.whole_button = button(tr("Whole run"), self.stack.show_whole, key="Ctrl+0")
        self.fail_button = button(
            tr("Go to failure"), self.show_failure, key="F3", hint=tr("The sample where it first went wrong")
        )
        card.add(FlowLayout(self.player.button, self.player.speed, self.axis_button, self.whole_button, self.fail_button))
        for there in (self.player.button, self.player.speed):
            there.setEnabled(self.run.series.rows > 0)
        below = QWidget()
        column = QVBoxLayout(below)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self.stages)
        self.table.setMinimumHeight(60)
        both = QHBoxLayout()
        both.setSpacing(GAP_PX)
        both.addWidget(self.table, 2)
        self.table.setMinimumWidth(TABLE_PX)
        why = scrolled(self.why, tr("Why"))
        why.setMinimumWidth(150)
        both.addWidget(why, 3)
        column.addLayout(both, 1)
        split = QSplitter(Qt.Orientation.Vertical)
        split.addWidget(self.stack)
        split.addWidget(below)
        split.setStretchFactor(0, 3)
        split.setStretchFactor(1, 1)
        split.setSizes([420, 210])
        split.setCollapsible(0, False)
        card.add(split, stretch=1)
        self.table.chosen.connect(self.look_at)
        return card

    def homes(self) -> list[QWidget]:
        """What gets the focus."""
        return [self.stack, self.next_button]

    # -- readings -----------------------------------------------------------------------------------------------------

    def _judge(self) -> None:
        palette, recording = self.selection.palette, self.run.recording
        # Of a run of hours only the strategy in use is asked, and no reasons: each takes its seconds.
        in_use, is_long, evaluator = self.selection.strategy, self.run.is_long, self.evaluator
        job = Job(lambda _job: verdict_on(evaluator, recording, palette, in_use, alone=is_long, reasons=not is_long), self)
        job.finished.connect(self._show_verdict)
        job.failed.connect(lambda words: self.messages.tell(words, "bad"))
        self._jobs.start(job)

    def _show_verdict(self, verdict: object) -> None:
        assert isinstance(verdict, RunResults)
        self.verdict = verdict
        self.judged.emit(verdict)
        self.band.show_answer(answer(verdict, self.selection.strategy))
        self.table.show_verdict(verdict, self.strategy)
        if self.readings is not None:
            self.choice.clear()
            for result in verdict.results:
                self.choice.addItem(strategy_name(result.strategy), result.strategy)
        self.look_at(self.strategy)

    def _other_strategy(self) -> None:
        """Another strategy is in use: what the verdict says of the one in use is said of the new one."""
        if self.verdict is None:
            return  # the verdict that comes is told for the strategy that is in use then
        in_use = self.selection.strategy
        if in_use in self.verdict.by_strategy:
            self.band.show_answer(answer(self.verdict, in_use))
        else:
            self.band.wait()
            self._judge()

    def _remedy(self, action: str) -> None:
        if action == "truth":
            self.truth_wanted.emit()
        else:
            self.wanted.emit(action)

    def look_at(self, strategy: str) -> None:
        """Show what this strategy read."""
        if strategy != self.strategy:
            self.messages.drop(WENT_WRONG)
        self.strategy = strategy
        result = self.verdict.by_strategy.get(strategy) if self.verdict is not None else None
        truth = self.run.recording.truth
        if self.readings is not None and self.map is not None:
            self.choice.setCurrentIndex(self.choice.findData(strategy))
            taken = result.taken if result is not None else None
            if taken is not None:
                self.readings.show_readings(taken, truth)
        words = list(result.why) if result is not None else []
        cause = cause_words(result.verdict) if result is not None else ""
        self.why.say("\n".join([*words, *([cause] if cause else [])]))
        if self._is_strategy(strategy) and self.run.is_long and self.run.log(strategy) is None:
            job = Job(lambda _job: self.run.prepare(strategy), self)
            job.finished.connect(lambda _: self.look_at(strategy) if strategy == self.strategy else None)
            job.failed.connect(lambda words: self.messages.tell(words, "bad"))
            self._jobs.start(job)
        flags = self.messages.attempt(lambda: self.run.flags(strategy)) if self._is_strategy(strategy) else None
        self.stack.flags = flags or []
        self.stack.update()
        self.fail_button.setEnabled(bool(self._wrong()))
        self._show_row(self.stack.cursor_row)

    def _is_strategy(self, name: str) -> bool:
        """Whether it is one that can be stepped, not the robot's own readings."""
        from telemetry.replay.scoring.results import ROBOT

        return name != ROBOT and self.run.recording.course is not None

    def _log(self) -> Log | None:
        """Of the strategy looked at; None where it is no strategy, and where it cannot be read, which is told."""
        asked = self._is_strategy(self.strategy)
        return self.messages.attempt(lambda: self.run.log(self.strategy)) if asked else None

    def _wrong(self) -> list[str]:
        """The strategies that misread this run, the one looked at first."""
        results = self.verdict.results if self.verdict is not None else ()
        names = [one.strategy for one in results if one.outcome is Outcome.WRONG and self._is_strategy(one.strategy)]
        return sorted(names, key=lambda name: name != self.strategy)

    def show_failure(self) -> None:
        """Go to the sample where the strategy first went wrong, close up, and from there to the next such sample.

        Where the strategy looked at read the run right, one that did not is looked at.
        """
        wrong = self._wrong()
        looked_at = self.verdict.by_strategy.get(self.strategy) if self.verdict is not None else None
        if wrong and looked_at is not None and looked_at.outcome is Outcome.RIGHT:
            right = self.strategy
            self.look_at(wrong[0])
            self.table.choose(wrong[0])
            self.messages.tell(tr("{right} read this run right. This is where {wrong} went wrong.", right=right,
                                   wrong=wrong[0]), cause=WENT_WRONG)  # fmt: skip
        if not self._is_strategy(self.strategy):
            return
        rows = self.messages.attempt(lambda: self.run.rows_of_failures(self.strategy))
        if rows:
            here = self.stack.cursor_row
            row = next((one for one in rows if one > here), rows[0]) if here in rows else rows[0]
            self.stack.show_around(row, CLOSE_UP_S if self.stack.view.axis == TIME else 20.0)
            self.stack.setFocus()
            top = self._plots.mapTo(self._inside, QPoint(0, 0)).y()
            self._page.verticalScrollBar().setValue(top)  # so that plots, stages and reasons are seen at once

    def _go_to_slot(self, slot: int) -> None:
        log = self._log()
        course = self.run.recording.course
        if log is None or course is None:
            return
        row = log.taken.slots[slot].row
        if row is None:
            row = log.nearest_row(course.slots[slot])
        if row is not None:
            self.stack.show_around(row, CLOSE_UP_S if self.stack.view.axis == TIME else 20.0)

    # -- the sample under the cursor ----------------------------------------------------------------------------------

    def _show_row(self, row: int) -> None:
        series = self.run.series
        if not series.rows:
            return
        at = row if row >= 0 else series.rows - 1
        where = tr("{row} of {rows}, {s:.3f} s", row=at + 1, rows=series.rows, s=float(series.time_s[at]))
        seen = [self.run.seen(sensor, at) for sensor in self.sensors]
        log = self._log()
        for number, (swatch, sensor, colour) in enumerate(zip(self.swatches, self.sensors, seen, strict=True)):
            place = log.place(at, number) if log is not None else None
            under = tr("{leg} {cm:.1f} cm", leg=place[0], cm=place[1]) if place is not None else ""
            swatch.show_colour(colour, sensor, where, under)
        # Of several sensors the one that sees a colour is the one to look at.
        looking = next((number for number, colour in enumerate(seen) if colour not in (None, "none")), 0)
        self.stages.show_steps(log.at(at, looking) if log is not None else [])
        if self.map is not None:
            self.map.set_states(self._states(row))
            x, y = series.path_cm
            heading = series.channel("heading")
            angle = float(heading[at]) if heading is not None else 0.0
            self.map.set_trail(x[: at + 1], y[: at + 1], 0.0 if math.isnan(angle) else angle)

    def _states(self, row: int) -> list[SlotState]:
        """What was read up to a sample, slot by slot; all of it where no sample is chosen."""
        result = self.verdict.by_strategy.get(self.strategy) if self.verdict is not None else None
        course = self.run.recording.course
        if result is None or course is None:
            return [SlotState() for _ in (course.slots if course is not None else ())]
        out = []
        for slot, reading in enumerate(result.taken.slots):
            known = not 0 <= row < self.run.series.rows - 1 or (reading.row is not None and reading.row <= row)
            mark = verdict_of(result.taken, self.run.recording.truth, slot)
            out.append(SlotState(reading.colour, mark) if known else SlotState())
        return out

    # -- the rest -----------------------------------------------------------------------------------------------------

    def toggle_axis(self) -> None:
        axis = WAY if self.stack.view.axis == TIME else TIME
        self.stack.set_axis(axis)
        self.axis_button.setChecked(axis == WAY)

    def _copy_picture(self) -> None:
        copy_picture(self.stack)
        self.messages.tell(tr("The plots are on the clipboard as a picture."))

    def _copy_table(self) -> None:
        self.messages.tell(tr("{rows} samples are on the clipboard as a table.", rows=copy_table(self.stack)))

    def stop(self) -> None:
        """The view goes: end what runs, and what was said of this run."""
        self.selection.strategy_changed.disconnect(self._other_strategy)
        self.messages.drop(WENT_WRONG)
        self.player.stop()
        self._jobs.close()

    def set_theme(self, theme: Theme) -> None:
        self.stack.set_theme(theme)
        self.stages.set_theme(theme)
        for swatch in self.swatches:
            swatch.set_theme(theme)
        if self.map is not None and self.readings is not None:
            self.map.set_theme(theme)
            self.readings.set_theme(theme)
