"""The window: the rail of places, the bar with the robot and the record key, and the place in view.

A place is made when it is first entered, so that the window is on the screen before plots and files are loaded.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QEvent, QObject, Qt, QTimer, Signal
from PySide6.QtGui import QAction, QCloseEvent, QKeySequence, QResizeEvent
from PySide6.QtWidgets import (
    QApplication,
    QHBoxLayout,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from gui.application import apply_theme, theme_wanted
from gui.in_sight import BackInSight, bring_into_view
from gui.model.workspace import Workspace
from gui.panels.ask_leaving import may_close
from gui.panels.fitting_bar import FittingBar
from gui.panels.message_bar import MessageBar
from gui.panels.parts import RECORD_KEY, Label, button, set_kind, shown_key
from gui.panels.rail import Rail
from gui.places.place import Place
from gui.places.start import StartPlace
from gui.takes_drops import TakesDrops
from gui.theme import THEMES
from gui.words import tr

if TYPE_CHECKING:
    from gui.panels.guide_reader import GuideReader

MAKERS: Final = {
    "live": ("gui.places.live", "LivePlace"),
    "record": ("gui.places.record", "RecordPlace"),
    "colours": ("gui.places.colours", "ColoursPlace"),
    "runs": ("gui.places.runs", "RunsPlace"),
    "decide": ("gui.places.decide", "DecidePlace"),
    "course": ("gui.places.course", "CoursePlace"),
    "match": ("gui.places.match", "MatchPlace"),
}
LEAST_WIDTH_PX, LEAST_HEIGHT_PX, SLIM_PX = 600, 340, 820


class Window(TakesDrops):
    """All of the program."""

    ready = Signal()
    """The shell is on the screen and the heavy parts are loaded."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        workspace.code.question = self._ask_code
        self.setWindowTitle("Sidelong")
        self.setMinimumSize(LEAST_WIDTH_PX, LEAST_HEIGHT_PX)
        names = {
            "start": tr("Start"), "live": tr("Live"), "record": tr("Record"), "colours": tr("Colours"),
            "runs": tr("Runs"), "decide": tr("Decide"), "course": tr("Course"),
            "match": tr("Match day"),
        }  # fmt: skip
        self.titles = names
        self.rail = Rail(
            [(name, text, f"Ctrl+{number}") for number, (name, text) in enumerate(names.items(), 1)], workspace.theme
        )
        self.rail.chosen.connect(self.go_to)
        self.places: dict[str, Place] = {}
        self.guide: GuideReader | None = None
        self._loaded = False
        self._maximised = self._filled = False
        """What the window was before it took the whole screen; and whether it took that for match day."""
        self.bar = self._make_bar()
        self.bar.want(self.sim, False)
        self.bar.installEventFilter(self)
        right = QWidget()
        column = QVBoxLayout(right)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.bar)
        column.addWidget(self.stage, 1)
        self.message_bar = MessageBar(workspace.messages)
        column.addWidget(self.message_bar)
        whole = QWidget()
        line = QHBoxLayout(whole)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(0)
        line.addWidget(self.rail)
        line.addWidget(right, 1)
        self.setCentralWidget(whole)
        self._make_actions()
        workspace.wanted.connect(self.show_place)
        workspace.undo.indexChanged.connect(self._drop_offers)
        self._add_place("start", StartPlace(workspace))
        self.show_place("start")
        self._restore()

    # -- building -----------------------------------------------------------------------------------------------------

    def _make_bar(self) -> FittingBar:
        bar = FittingBar()
        bar.setProperty("kind", "bar")
        bar.setFixedHeight(52)
        self.title = Label("", "title")
        self.link = Label(tr("No robot connected"), "chip")
        self.sim = Label(tr("simulated"), "chip")
        self.run_time = Label("", "soft")
        self.record_button: QPushButton = button(
            tr("Record"), self.toggle_record, kind="record", key=RECORD_KEY, hint=tr("Begin a run, or end it and keep it")
        )
        self.look_button = button(tr("Dark"), self.toggle_theme, kind="quiet", hint=tr("Light or dark (Ctrl+D)"))
        self.keys_button = button(tr("Keys"), self.show_keys, kind="quiet", key="F1", hint=tr("All keys of this place"))
        line = QHBoxLayout(bar)
        line.setContentsMargins(18, 0, 14, 0)
        line.setSpacing(10)
        for thing in (
            self.title,
            None,
            self.run_time,
            self.sim,
            self.link,
            self.record_button,
            self.look_button,
            self.keys_button,
        ):
            if thing is None:
                line.addStretch(1)
            else:
                line.addWidget(thing, 0, Qt.AlignmentFlag.AlignVCenter)
        bar.give_way(self.look_button, self.keys_button, self.sim, self.run_time, self.link)
        return bar

    def _make_actions(self) -> None:
        for number, name in enumerate(self.titles, 1):
            self._action(f"Ctrl+{number}", lambda name=name: self.go_to(name))
        self._action("Ctrl+D", self.toggle_theme)
        self._action("F1", self.show_keys)
        self._action("Shift+F1", self.show_guide)
        self._action(RECORD_KEY, self.toggle_record)
        self._action("F11", self._toggle_full_screen)
        self._action("F6", self.message_bar.take_focus)
        self._action("Ctrl+O", self._open_file)
        self._action("Ctrl+Q", self._leave)
        self._action("Ctrl+Z", self._take_back)
        redo = self.workspace.undo.createRedoAction(self, tr("Redo"))
        redo.setShortcuts([QKeySequence("Ctrl+Shift+Z"), QKeySequence("Ctrl+Y")])
        self.addAction(redo)

    def _take_back(self) -> None:
        """What is just being filled in, else what was done last: never the colours of a run that is not looked at."""
        holder = QApplication.focusWidget()
        while holder is not None:
            take_back = getattr(holder, "take_back", None)  # the pages are not loaded before they are opened
            if take_back is not None and take_back():
                return
            holder = holder.parentWidget()
        self.workspace.undo.undo()

    def _action(self, key: str, does) -> None:  # type: ignore[no-untyped-def]
        action = QAction(self)
        action.setShortcut(QKeySequence(key))
        action.triggered.connect(lambda _checked=False: does())
        self.addAction(action)

    def _add_place(self, name: str, place: Place) -> None:
        self.places[name] = place
        self.stage.addWidget(place)

    def _ask_code(self, path: str) -> bool:
        from gui.panels.ask_code import ask_code

        return ask_code(self, path)

    def _restore(self) -> None:
        geometry = self.workspace.settings.blob("geometry")
        if geometry is None or not self.restoreGeometry(geometry):
            screen = QApplication.primaryScreen().availableGeometry()
            self.resize(min(1360, screen.width()), min(860, screen.height()))

    # -- places -------------------------------------------------------------------------------------------------------

    @property
    def place(self) -> Place:
        """The place in view."""
        current = self.stage.currentWidget()
        assert isinstance(current, Place)
        return current

    def go_to(self, name: str) -> None:
        """By key or by the rail: match day takes the whole screen."""
        self.show_place(name)
        if self.place.alone and not self.isFullScreen():
            self._filled = True
            self._fill_screen()

    def show_place(self, name: str, what: object = None) -> None:
        """Go to a place, making it first where it was never entered."""
        if name not in self.places:
            module, kind = MAKERS[name]
            place: Place = getattr(importlib.import_module(module), kind)(self.workspace)
            place.set_theme(self.workspace.theme)
            self._add_place(name, place)
        before = self.stage.currentWidget()
        after = self.places[name]
        if isinstance(before, Place) and before is not after:
            before.give_focus()
        self.stage.setCurrentWidget(after)
        if isinstance(before, Place) and before is not after:
            self.workspace.messages.pass_by()
            before.left()
        for around in (self.rail, self.bar):
            around.setVisible(not after.alone)
        if self._filled and not after.alone:
            self._filled = False
            self._leave_screen()
        self.rail.show_place(name)
        self.title.say(self.titles[name])
        after.entered(what)
        after.take_focus()

    def _drop_offers(self, _index: int) -> None:
        """Something was done or taken back: what was offered to be undone before that is no offer any more."""
        self.workspace.messages.drop("undo")

    # -- the robot and the record key ---------------------------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        super().resizeEvent(event)
        self.rail.set_slim(self.width() < SLIM_PX)

    def eventFilter(self, what: QObject, event: QEvent) -> bool:  # noqa: N802
        """The first picture of the shell: what is heavy is loaded right after it."""
        if event.type() == QEvent.Type.Paint and not self._loaded:
            self._loaded = True
            self.bar.removeEventFilter(self)
            QTimer.singleShot(0, self._load)
        return super().eventFilter(what, event)

    def _load(self) -> None:
        """The first picture is painted: load what is heavy, and find a capture that still runs."""
        handle = self.windowHandle()
        if handle is not None:
            handle.installEventFilter(BackInSight(self))
        follow = self.workspace.follow
        follow.state_changed.connect(self._show_state)
        follow.find_running()
        self._show_state()
        start = self.places["start"]
        assert isinstance(start, StartPlace)
        start.begin()
        self.ready.emit()

    def _show_state(self) -> None:
        follow = self.workspace.follow
        self.workspace.messages.drop("link" if follow.connected else "connected")
        set_kind(self.record_button, "record")
        words = tr("Stop and keep") if follow.recording else tr("Record")
        self.record_button.setText(f"{words}   {shown_key(RECORD_KEY)}")
        self.record_button.setAccessibleName(words)
        self.link.say(follow.summary())
        self.message_bar.say_idle(tr("Runs are kept in {folder}", folder=self.workspace.folder.path))
        self.run_time.say(follow.recorded_for())
        self.bar.want(self.sim, follow.simulated)
        self.bar.settle()

    def toggle_record(self) -> None:
        """The one key: begin a run, or end it and keep it."""
        follow = self.workspace.follow
        if not follow.connected and not follow.recording:
            self.show_place("start")
            self.workspace.messages.tell(
                tr("Connect a robot first, or start the simulated one; then Record works."), "warn", cause="link"
            )
            return
        if follow.recording:
            if not self.place.alone:
                self.show_place("record")
            follow.stop_recording()
        else:
            self.workspace.messages.pass_by()
            follow.start_recording()

    # -- look, keys, files --------------------------------------------------------------------------------------------

    def set_look(self, name: str) -> None:
        """'light', 'dark' or 'system'."""
        theme = theme_wanted(name)
        self.workspace.theme = theme
        self.workspace.settings.set_text("look", name)
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        apply_theme(app, theme)
        self.rail.set_theme(theme)
        self.look_button.setText(tr("Light") if theme.name == "dark" else tr("Dark"))
        for place in self.places.values():
            place.set_theme(theme)
        self.workspace.theme_changed.emit(theme)

    def toggle_theme(self) -> None:
        self.set_look(next(name for name in THEMES if name != self.workspace.theme.name))

    def show_keys(self) -> None:
        from gui.panels.keys import KeysDialog

        if KeysDialog(self.stage.currentWidget(), self).exec() == KeysDialog.GUIDE:
            self.show_guide()

    def show_guide(self) -> None:
        """Beside the window, so that one can do what it says."""
        from gui.panels.guide_reader import GuideReader

        if self.guide is None:
            self.guide = GuideReader(self.workspace.theme, self)
            self.workspace.theme_changed.connect(self.guide.set_theme)
        self.guide.show()
        self.guide.raise_()
        self.guide.activateWindow()

    def _toggle_full_screen(self) -> None:
        if self.isFullScreen():
            self._leave_screen()
        else:
            self._fill_screen()

    def _fill_screen(self) -> None:
        self._maximised = self.isMaximized()
        self.showFullScreen()

    def _leave_screen(self) -> None:
        """As the window was before it took the whole screen."""
        if self._maximised:
            self.showMaximized()
        else:
            self.showNormal()

    def _open_file(self) -> None:
        from gui.opening import ask_and_open

        ask_and_open(self.workspace, self)

    def focusNextPrevChild(self, forward: bool) -> bool:  # noqa: N802
        """Tab: what has the focus is seen. A frame that scrolls sees to that only where the focus was in it before."""
        moved = super().focusNextPrevChild(forward)
        now = QApplication.focusWidget()
        if moved and now is not None:
            bring_into_view(now)
        return moved

    def _leave(self) -> None:
        """By key, with the question that the system's own way of closing has."""
        if may_close(self, self.workspace.follow):
            self.close()

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802
        if event.spontaneous() and not may_close(self, self.workspace.follow):
            event.ignore()
            return
        self.workspace.settings.set_blob("geometry", self.saveGeometry())
        if self.guide is not None:
            self.guide.close()
        for place in self.places.values():
            place.closing()
        self.workspace.close()
        super().closeEvent(event)
