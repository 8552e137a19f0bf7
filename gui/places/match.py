"""Match day: one page in large type for the last five minutes. Link, colours, last run, next layout; no mouse needed."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import QGridLayout, QWidget

from gui.model.answer import Answer, answer
from gui.model.calibration import Calibration, step_words
from gui.model.colour_judgement import judged_for, lacking
from gui.model.jobs import Job, Jobs
from gui.model.verdicts import RunResults, verdict_on
from gui.model.workspace import Workspace
from gui.panels.flow import FlowLayout
from gui.panels.key_host import Key
from gui.panels.lot_card import LotCard
from gui.panels.parts import RECORD_KEY, Card, Label, button, row, scrolled, set_kind, shown_key
from gui.places.place import Place
from gui.theme import GAP_PX, Theme
from gui.words import tr

NARROW_PX = 760


class BigCard(Card):
    """A small heading, one thing in very large type, a line below it, and perhaps a button."""

    def __init__(self, heading: str, parent: QWidget | None = None) -> None:
        super().__init__(parent=parent)
        self.head_label = Label(heading, "eyebrow")
        self.big = Label("", "huge", wrap=True)
        self.more = Label("", "big", wrap=True)
        self.add(self.head_label, self.big, self.more)
        self.column.addStretch(1)
        self.setAccessibleName(heading)

    def say(self, big: str, more: str, kind: str = "card") -> None:
        set_kind(self, kind)
        self.big.say(big)
        self.more.say(more)
        self.setAccessibleDescription(f"{big} {more}")


class MatchPlace(Place):
    """Shown without rail and bar. Its keys lead through everything: re-check, record, enter colours, next layout."""

    name = "match"
    alone = True

    def __init__(self, workspace: Workspace, parent: QWidget | None = None) -> None:
        super().__init__(workspace, parent)
        self.calibration = Calibration(workspace.selection, workspace.follow, workspace.messages, self)
        self.verdict: RunResults | None = None
        self._jobs = Jobs()
        self._last: Path | None = None
        self.link, self.colours, self.run = BigCard(tr("Robot")), BigCard(tr("Colours")), BigCard(tr("Last run"))
        self.lot = LotCard(workspace.lot, workspace.theme)
        self.record_button = button(tr("Record"), self._record, kind="record", key=RECORD_KEY)
        self.record_button.setMinimumHeight(64)
        self.check_button = button(tr("Re-check colours"), self.check, key="Ctrl+K")
        self.take_button = button(tr("Capture"), self.take, kind="chief", key="Space", hint=tr("Two seconds of samples"))
        self.stop_button = button(tr("Stop the re-check"), self.stop_check, kind="quiet")
        # While the re-check goes on, Space captures, whatever has the focus: the card says so, and eyes are on the robot.
        self._space = QShortcut(QKeySequence("Space"), self)
        self._space.activated.connect(self.take)
        self.truth_button = button(tr("Enter colours"), self.enter_truth, key="Ctrl+E")
        self.open_button = button(tr("Open this run"), self.open_run, key="Ctrl+J")
        self.leave_button = button(tr("Leave match day"), self.leave, kind="quiet", key="Esc")
        self.link.add(self.record_button)
        self.colours.add(FlowLayout(self.take_button, self.check_button, self.stop_button))
        self.run.add(FlowLayout(self.open_button, self.truth_button))
        inside = QWidget()
        grid = QGridLayout(inside)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setSpacing(GAP_PX)
        self._grid, self._across = grid, 0
        self._lay_out(2)
        self.column.addLayout(row(Label(tr("Match day"), "title"), None, self.leave_button))
        self.column.addWidget(scrolled(inside), 1)
        self.set_keys(
            Key("Ctrl+K", tr("re-check the colours"), self.check),
            Key("Space", tr("capture the colour under the sensor, during the re-check")),
            Key("Ctrl+E", tr("enter the actual colours of the last run"), self.enter_truth),
            Key("Ctrl+L", tr("new layout"), workspace.lot.draw),
            Key("Ctrl+J", tr("open the last run"), self.open_run),
            Key("Escape", tr("leave match day"), self.leave),
        )
        follow = workspace.follow
        follow.state_changed.connect(self._show_link)
        workspace.shelf.changed.connect(self._look_at_last)
        workspace.selection.strategy_changed.connect(self._judge)
        workspace.selection.recheck_changed.connect(self._answered)
        for changed in (self.calibration.changed, workspace.selection.palette_changed, workspace.selection.course_changed):
            changed.connect(self._show_colours)
        self._show_link()
        self._show_colours()
        self._look_at_last()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        super().resizeEvent(event)
        self._lay_out(1 if self.width() < NARROW_PX else 2)

    def _lay_out(self, across: int) -> None:
        """Two cards side by side; one below the other where large type has no room for that."""
        if across == self._across:
            return
        self._across = across
        for number, card in enumerate((self.link, self.colours, self.run, self.lot)):
            self._grid.addWidget(card, number // across, number % across)
            self._grid.setRowStretch(number // across, 1)
        for column in range(2):
            self._grid.setColumnStretch(column, 1 if column < across else 0)

    def homes(self) -> list[QWidget]:
        return [self.record_button, self.take_button, self.check_button, self.leave_button]

    def entered(self, what: object = None) -> None:
        del what
        self.workspace.shelf.refresh()
        self._show_link()

    # -- robot --------------------------------------------------------------------------------------------------------

    def _show_link(self) -> None:
        follow = self.workspace.follow
        self.link.head_label.say(tr("Robot, simulated") if follow.simulated else tr("Robot"))
        self.record_button.setEnabled(follow.connected)
        words = tr("Stop and keep") if follow.recording else tr("Record")
        self.record_button.setText(f"{words}   {shown_key(RECORD_KEY)}")
        if not self.isVisible() and self.link.big.text():
            return
        if follow.recording:
            self.link.say(tr("Recording"), f"{follow.recorded_for()}  {follow.summary()}", "warn")
        elif follow.connected:
            run = follow.run
            down = run is None or not run.table.rows or run.follower.link_is_down
            self.link.say(tr("No data") if down else tr("Ready"), follow.summary(), "bad" if down else "good")
        else:
            self.link.say(tr("Not connected"), tr("Ctrl+1 leads to the list of robots."), "bad")

    def _record(self) -> None:
        follow = self.workspace.follow
        if follow.recording:
            follow.stop_recording()
        elif follow.connected:
            follow.start_recording()

    # -- colours ------------------------------------------------------------------------------------------------------

    def check(self) -> None:
        """Three colours: does the palette in use still hold?"""
        if self.workspace.selection.palette is None:
            self.workspace.messages.tell(
                tr("No palette of your own is in use, so there is nothing to check."), "warn", cause="palette"
            )
            return
        if not self.workspace.follow.connected:
            self.workspace.messages.tell(tr("Connect the robot first: its sensor is what is checked."), "warn", cause="link")
            return
        self.calibration.begin_recheck()
        self.go_home(self.take_button)

    @property
    def checking(self) -> bool:
        """A re-check has begun here and is not at its end."""
        return not self.calibration.learning and self.calibration.step is not None

    def take(self) -> None:
        if self.checking and not self.calibration.taking:
            self.workspace.messages.attempt(self.calibration.take)

    def stop_check(self) -> None:
        """What was answered before is shown again."""
        self.calibration.begin(self.workspace.selection.course.colours)

    def _answered(self) -> None:
        """A re-check has its answer. Where that was made under Colours, one that was begun here is over, too."""
        if self.checking and not self.calibration.complete:
            self.stop_check()
        self._show_colours()

    def _show_check_buttons(self) -> None:
        checking = self.checking and self.workspace.selection.palette is not None
        self._space.setEnabled(checking)
        held = self.take_button.hasFocus() or self.stop_button.hasFocus()
        self.check_button.setVisible(not checking)
        if held and not checking:  # before they are hidden: the focus would go to Record, and Space with it
            self.check_button.setFocus()
        self.take_button.setVisible(checking)
        self.stop_button.setVisible(checking)

    def _show_colours(self) -> None:
        self._show_check_buttons()
        calibration, selection = self.calibration, self.workspace.selection
        palette, last = selection.palette, selection.last_recheck
        absent = lacking(palette, selection.course.colours) if palette is not None else ()
        if palette is None:
            self.colours.say(tr("Typical colours"), tr("Capture your sensor's own under Colours."), "warn")
        elif not calibration.learning and (step := calibration.step) is not None:
            todo = tr("{words}  Then press Space.", words=step_words(step))
            again = " ".join(f"! {doubt}." for doubt in calibration.doubts)
            words = tr("Capturing …") if calibration.taking else f"{again} {todo}".strip()
            self.colours.say(tr("{n} of {all}", n=calibration.at + 1, all=len(calibration.steps)), words, "warn")
        elif absent:
            said = judged_for(palette, selection.course.colours)
            others = tr("The others, checked at {time}: {answer}.", time=last.at, answer=last.verdict) if last else ""
            self.colours.say(said.words, f"{said.todo} {others}".strip(), said.kind)
        elif last is not None:
            self.colours.say(last.verdict, last.words, "good" if last.same else "bad")
        else:
            self.colours.say(palette.name, tr("Not re-checked yet. It takes a minute."), "warn")

    # -- the last run -------------------------------------------------------------------------------------------------

    def _look_at_last(self) -> None:
        shelf = self.workspace.shelf
        whole = [entry for entry in shelf.entries if entry.state == "whole"]
        self._last = Path(whole[0].path) if whole else None
        self._judge()

    def _judge(self) -> None:
        workspace = self.workspace
        path, shelf, evaluator = self._last, workspace.shelf, workspace.evaluator
        palette, strategy = workspace.selection.palette, workspace.selection.strategy
        for one in (self.open_button, self.truth_button):
            one.setEnabled(path is not None)
        if path is None:
            self.run.say("–", tr("No run yet."))
            return
        if self._jobs.busy:
            return

        job = Job(lambda _job: verdict_on(evaluator, shelf.load(path), palette, strategy), self)
        job.finished.connect(self._show_verdict)
        job.failed.connect(lambda words: self.run.say("–", words, "warn"))
        self._jobs.start(job)

    def _show_verdict(self, verdict: object) -> None:
        assert isinstance(verdict, RunResults)
        if verdict.path != self._last:
            self._judge()
            return
        self.verdict = verdict
        said: Answer = answer(verdict, self.workspace.selection.strategy)
        signs = {"good": "✓", "bad": "✗", "warn": "–"}
        more = " ".join(words for words in (said.cause, said.remedy) if words)
        self.run.head_label.say(tr("Last run: {name}", name=verdict.path.stem))
        self.run.say(f"{signs[said.kind]} {said.headline}", more, said.kind)

    def enter_truth(self) -> None:
        if self._last is not None:
            self.workspace.go("record", self._last)

    def open_run(self) -> None:
        if self._last is not None:
            self.workspace.go("runs", str(self._last))

    def leave(self) -> None:
        self.workspace.go("runs")

    def closing(self) -> None:
        self.calibration.stop()
        self._jobs.close()

    def set_theme(self, theme: Theme) -> None:
        self.lot.set_theme(theme)
