"""Record: one key, or an armed session; afterwards what stood there, and at once the verdict."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QPushButton, QScrollArea, QStackedWidget, QVBoxLayout, QWidget

from gui.model.cutting import Cutting
from gui.model.filling_in import said_by_the_robot
from gui.model.jobs import Job, Jobs
from gui.model.run_reader import ReadRun, RunReader
from gui.model.session import PracticeSession
from gui.model.verdicts import RunResults, verdict_on
from gui.model.workspace import Workspace
from gui.panels.big_swatch import BigSwatch
from gui.panels.choice import Tick
from gui.panels.columns import Columns
from gui.panels.cutting_box import CuttingBox
from gui.panels.file_dialogs import ask_for_file
from gui.panels.key_host import Key
from gui.panels.labels_form import LabelsForm
from gui.panels.lot_card import LotCard
from gui.panels.parts import RECORD_KEY, Card, Label, button, column_of_cards, scrolled, set_kind, shown_key, side_column
from gui.panels.runs_needed import RunsNeeded
from gui.panels.truth_picker import TruthPicker
from gui.panels.verdict_card import VerdictCard
from gui.places.place import Place
from gui.sound import Voice
from gui.swatches import SwatchBook
from gui.theme import GAP_PX, Theme
from gui.words import runs, tr
from telemetry.course import Course
from telemetry.recording.library import Entry

LEFT_PX, LEAST_MAIN_PX = 336, 440
READY_PAGE, TRUTH_PAGE, VERDICT_PAGE = range(3)
COUNTED = 200
"""Of the newest so many runs it is counted how many were read right."""


class RecordPlace(Place):
    """Left: the run in progress and what is noted with it. Right: what to set up next, then the truth, then the verdict."""

    name = "record"
    asked: Path | None = None
    """The run whose truth is asked for."""
    _asks_by_own = False
    """Whether it is asked for on another course than the one in use: the run's own."""

    def __init__(self, workspace: Workspace, parent: QWidget | None = None) -> None:
        super().__init__(workspace, parent)
        self._jobs = Jobs()
        self.session = PracticeSession(workspace.selection, workspace.follow, Voice(self), self)
        self.run_reader = RunReader(workspace.shelf, workspace.messages, self._jobs)
        self.cutting = Cutting(workspace.shelf, workspace.messages, self)
        self.column.addWidget(scrolled(Columns(self._left(), self._right(), LEAST_MAIN_PX)), 1)
        follow = workspace.follow
        follow.state_changed.connect(self._show_state)
        follow.grew.connect(self._grew)
        follow.kept.connect(self._kept)
        workspace.shelf.changed.connect(self._shelf_changed)
        workspace.standings.changed.connect(self._show_practice)
        workspace.selection.course_changed.connect(self._course_changed)
        self.session.changed.connect(self._show_session)
        self.cutting.cut.connect(self._was_cut)
        self.set_keys(
            Key("Return", tr("save the colours; at a verdict: next run"), self._return),
            Key("A … Z", tr("a colour by its letter, while colours are asked for")),
            Key("Backspace", tr("take the last colour back")),
            Key("Escape", tr("enter the colours later"), self._skipped),
            Key("Ctrl+L", tr("new layout"), workspace.lot.draw),
            Key("Ctrl+Shift+R", tr("start or end the practice session"), self._toggle_session),
            Key("Ctrl+Shift+S", tr("readings spoken, or not"), self.sound_box.toggle),
        )
        self._show_state()
        self._show_session()
        self._show_practice()

    # -- building -----------------------------------------------------------------------------------------------------

    def _left(self) -> QScrollArea:
        workspace = self.workspace
        inside = QWidget()
        column = column_of_cards(inside)
        self.state_card = Card()
        self.state = Label("", "title", wrap=True)
        self.state_more = Label("", "soft", wrap=True)
        self.key_button: QPushButton = button(tr("Record"), self._toggle_record, kind="record", key=RECORD_KEY)
        self.key_button.setMinimumHeight(56)
        self.swatch = BigSwatch(workspace.selection.book, workspace.theme)
        self.state_card.add(self.state, self.state_more, self.key_button, self.swatch)
        column.addWidget(self.state_card)
        session = Card(tr("Practice session"))
        hint = tr("A run begins when the robot moves off, and ends when it rests")
        self.arm_button = button(tr("Record every run automatically"), self._toggle_session, key="Ctrl+Shift+R", hint=hint)
        self.arm_button.setCheckable(True)
        self.sound_box = Tick(tr("Speak readings"))
        self.sound_box.toggled.connect(self.session.voice.switch)
        self.session_words = Label("", "soft", wrap=True)
        self.next_button = button(tr("Enter colours"), self._ask_waiting, kind="chief")
        hint = tr("For a robot that keeps what it sends in a file while it drives")
        self.fetch_button = button(tr("Import a log from the robot"), self._fetch, hint=hint)
        session.add(self.arm_button, self.fetch_button, self.sound_box, self.session_words, self.next_button)
        column.addWidget(session)
        self.labels = LabelsForm(workspace.settings)
        column.addWidget(self.labels)
        column.addStretch(1)
        return side_column(inside, LEFT_PX)

    def _right(self) -> QWidget:
        workspace = self.workspace
        self.pages = QStackedWidget()
        ready = QWidget()
        column = QVBoxLayout(ready)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP_PX)
        self.lot = LotCard(workspace.lot, workspace.theme)
        self.needed = RunsNeeded()
        column.addWidget(self.lot, 1)
        column.addWidget(self.needed)
        self.truth_card = Card(tr("Actual colours"))
        self.truth_run = Label("", "chip")
        self.truth_card.head.addWidget(self.truth_run)
        self.picker = TruthPicker(workspace.selection.course, workspace.selection.book, workspace.theme)
        self.picker.confirmed.connect(self._confirmed)
        self.picker.skipped.connect(self._skipped)
        self.cutting_box = CuttingBox(self.cutting)
        self.cutting_box.busy_changed.connect(self._busy)
        self.truth_card.add(self.cutting_box)
        self.truth_card.add(self.picker, stretch=1)
        self.verdict_card = VerdictCard(workspace.selection.course, workspace.selection.book, workspace.theme)
        self.verdict_card.open_wanted.connect(self._open_run)
        self.verdict_card.next_wanted.connect(self._ready)
        self.verdict_card.wanted.connect(self._remedy)
        self.verdict_card.compare_wanted.connect(lambda: self.workspace.go("decide"))
        for page in (ready, self.truth_card, self.verdict_card):
            self.pages.addWidget(scrolled(page))
        return self.pages

    def homes(self) -> list[QWidget]:
        if self.pages.currentIndex() == TRUTH_PAGE:
            return [self.picker.map, self.picker.confirm_button]
        if self.pages.currentIndex() == VERDICT_PAGE:
            return [self.verdict_card.next_button]
        return [self.key_button, self.arm_button]

    # -- state --------------------------------------------------------------------------------------------------------

    def entered(self, what: object = None) -> None:
        if isinstance(what, Path):
            self._ask(what)
        elif self.session.waiting and not self.session.armed:
            self._ask_waiting()
        self._show_state()
        self.workspace.shelf.refresh()
        self._count_runs()

    def _mine(self) -> list[Entry]:
        """The runs on this course whose truth is known, the newest first."""
        course = self.workspace.selection.course
        return [entry for entry in self.workspace.shelf.entries if entry.course == course.name and entry.truth][:COUNTED]

    def _count_runs(self) -> None:
        """How many of the runs so far the chosen strategy reads right: worked out on a thread where it is not known yet."""
        if self.isVisible():
            self.workspace.standings.want(self._mine())

    def _show_state(self) -> None:
        follow, words = self.workspace.follow, tr("Record")
        if follow.recording:
            self.state.say(tr("Recording"))
            self.state_more.say(follow.recorded_for() + "   " + follow.summary())
            words = tr("Stop and keep")
        elif follow.connected:
            self.state.say(tr("Waiting for a run") if self.session.armed else tr("Ready"))
            ready = tr("Set up the field, then press Record. Pressed late, it still starts where the robot moved off.")
            self.state_more.say(ready)
        else:
            self.state.say(tr("No robot connected"))
            self.state_more.say(tr("Connect one under Start, or start the simulated robot."))
        set_kind(self.state_card, "warn" if follow.recording else "card")
        self.key_button.setText(f"{words}   {shown_key(RECORD_KEY)}")
        self.key_button.setAccessibleName(words)
        self.key_button.setEnabled(follow.connected)

    def _grew(self, _new: int) -> None:
        run = self.workspace.follow.run
        if run is None or not self.isVisible():
            return
        sensor = self.workspace.selection.course.sensors[0].name
        decided = [reading for reading in run.taken.slots if reading.colour is not None]
        told = tr("{done} of {of} slots read", done=len(decided), of=len(self.workspace.selection.course.slots))
        self.swatch.show_colour(run.seen.get(sensor), sensor, told)

    def _toggle_record(self) -> None:
        follow = self.workspace.follow
        if follow.recording:
            follow.stop_recording()
        else:
            follow.start_recording()

    def _toggle_session(self) -> None:
        self.session.arm(not self.session.armed)

    def _fetch(self) -> None:
        """A stream that the robot kept on board, saved as text: a run like any other."""
        kinds = tr("Logs") + " (*.txt *.log *.csv *.tsv);;* (*)"
        chosen = ask_for_file(self, tr("A log from the robot"), self.workspace.folder.path, kinds)
        if chosen:
            self.take_in(Path(chosen))

    def take_in(self, text: Path) -> None:
        """Make a run of a saved stream, and ask what stood there."""
        self.workspace.shelf.ingest(text, self._ask)

    def _show_session(self) -> None:
        session = self.session
        self.arm_button.setChecked(session.armed)
        words = tr("End the session") if session.armed else tr("Record every run automatically")
        self.arm_button.setText(f"{words}   {shown_key('Ctrl+Shift+R')}")
        self.arm_button.setAccessibleName(words)
        count = len(session.waiting)
        waiting = tr("Waiting for the robot to move off; {kept} kept, {n} without colours. These are entered at the end.",
                     kept=runs(session.count), n=count)  # fmt: skip
        self.session_words.say(waiting if session.armed else tr("Every time the robot drives, a run is saved."))
        self.next_button.setVisible(count > 0)
        self.next_button.setText(tr("Enter colours ({runs})", runs=runs(count)))
        self._show_state()
        if not session.armed and count and self.isVisible() and self.asked is self.run_reader.path is None:
            self._ask_waiting()

    def _shelf_changed(self) -> None:
        if self.asked is not None and not self.asked.exists():  # removed, or a cut was undone
            self._skipped()
        self._show_practice()
        self._count_runs()

    def _show_practice(self) -> None:
        """What the runs so far say about the practice on this course."""
        mine = self._mine()
        standings = [self.workspace.standings.of(entry) for entry in mine]
        judged = [one.kind == "right" for one in standings if one is not None and one.kind in ("right", "wrong", "early")]
        self.needed.show_runs(sum(judged), len(judged), self.workspace.selection.strategy)

    # -- after a run --------------------------------------------------------------------------------------------------

    def _kept(self, path: object) -> None:
        assert isinstance(path, Path)
        if not self.session.armed:
            self._ask(path)

    def _ask_waiting(self) -> None:
        for path in [path for path in self.session.waiting if not path.exists()]:
            self.session.settled(path)
        if self.session.waiting:
            self._ask(self.session.waiting[0])

    def _ask(self, path: Path) -> None:
        """Ask what stood there in this run, once it is read."""
        self.asked = None
        self.run_reader.read(path, self._ask_about)

    def _ask_about(self, run: ReadRun) -> None:
        """The same with what is expected filled in."""
        self.asked, recording = run.path, run.recording
        self.truth_run.say(run.path.stem)
        course = self.workspace.selection.course
        own = recording.course if recording is not None and recording.course is not None else course
        self._asks_by_own = own is not course and own != course
        self._show_course_asked(own if self._asks_by_own else course)
        self.cutting_box.ask(run.path, run.drives)
        if self.workspace.follow.simulated:
            self.picker.start(*said_by_the_robot(self.workspace.follow, recording if run.drives == 1 else None, own))
        elif self._asks_by_own:
            self.picker.start(None, tr("This run was driven on {name}: its colours are asked for.", name=own.name))
        else:
            self.picker.start(
                self.workspace.lot.layout, tr("Filled in from the layout. Press Return to save, or correct it first.")
            )
        self.pages.setCurrentIndex(TRUTH_PAGE)
        self.picker.map.setFocus()
        self.stay_in_sight()
        page = self.pages.currentWidget()
        assert isinstance(page, QScrollArea)
        page.ensureWidgetVisible(self.picker.confirm_button)

    def _show_course_asked(self, course: Course) -> None:
        """The run's own, which need not be the one in use any more."""
        selection = self.workspace.selection
        book = SwatchBook(course.colours) if self._asks_by_own else selection.book
        self.picker.set_course(course, book)
        self.verdict_card.set_course(course, book)

    def _busy(self, busy: bool) -> None:
        """While a run is cut, its colours are not asked for; afterwards the letters go to it again."""
        self.picker.setEnabled(not busy)
        if not busy and self.asked is not None and self.isVisible() and not self.picker.isAncestorOf(self.focusWidget()):
            self.go_home()

    def _was_cut(self, path: object, drives: object) -> None:
        assert isinstance(path, Path)
        assert isinstance(drives, list)
        self.session.cut_up(path, drives)
        if self.asked == path:
            self._ask(drives[0])

    def _confirmed(self, truth: object) -> None:
        path = self.asked
        if path is None or not isinstance(truth, tuple):
            return
        if self.workspace.shelf.set_truth(path, truth):
            self.session.settled(path)
            self.asked = None
            self.workspace.lot.draw()
            self._judge(path)

    def _skipped(self) -> None:
        if self.asked is None:
            return
        self.session.settled(self.asked)
        self.asked = None
        self._ready()

    def _ready(self) -> None:
        if self.session.waiting and not self.session.armed:
            self._ask_waiting()
            return
        self.pages.setCurrentIndex(READY_PAGE)

    def _judge(self, path: Path) -> None:
        self.pages.setCurrentIndex(VERDICT_PAGE)
        self.verdict_card.wait()
        workspace = self.workspace
        palette, strategy = workspace.selection.palette, workspace.selection.strategy
        job = Job(lambda _job: verdict_on(workspace.evaluator, workspace.shelf.load(path), palette, strategy), self)
        job.finished.connect(self._show_verdict)
        job.failed.connect(lambda words: self.workspace.messages.tell(words, "bad"))
        self._jobs.start(job)

    def _show_verdict(self, verdict: object) -> None:
        assert isinstance(verdict, RunResults)
        self.workspace.standings.note_all(verdict)
        self.verdict_card.show_verdict(verdict, self.workspace.selection.strategy)
        if self.isVisible():
            self.go_home()
        self._show_practice()

    def _remedy(self, action: str) -> None:
        verdict = self.verdict_card.verdict
        if action == "truth" and verdict is not None:
            self._ask(verdict.path)
        else:
            self.workspace.go(action)

    def _open_run(self, strategy: str) -> None:
        verdict = self.verdict_card.verdict
        if verdict is not None:
            self.workspace.go("runs", (str(verdict.path), strategy))

    def _course_changed(self) -> None:
        course, book = self.workspace.selection.course, self.workspace.selection.book
        self.swatch.book = book
        self._show_practice()
        self._count_runs()
        if self.asked is not None and self.asked.exists():
            self._ask(self.asked)
        elif self.pages.currentIndex() != VERDICT_PAGE:
            self.picker.set_course(course, book)
            self.verdict_card.set_course(course, book)

    def _asking(self) -> bool:
        return self.asked is not None and self.pages.currentIndex() == TRUTH_PAGE and self.picker.isEnabled()

    def _return(self) -> None:
        if self._asking():
            self.picker.confirm()
        elif self.pages.currentIndex() == VERDICT_PAGE and self.verdict_card.verdict is not None:
            self._ready()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """While colours are asked for, a letter is a colour wherever on the page the focus is."""
        if not (self._asking() and self.picker.take(event)):
            super().keyPressEvent(event)

    def closing(self) -> None:
        self.cutting.close()
        self._jobs.close()

    def set_theme(self, theme: Theme) -> None:
        self.lot.set_theme(theme)
        self.picker.set_theme(theme)
        self.verdict_card.set_theme(theme)
        self.swatch.set_theme(theme)
