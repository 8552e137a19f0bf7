"""The robot link: starts and finds capture processes, follows what they write, and makes the live readings.

Everything the window knows about a run in progress comes from the capture's growing journal, read by the same follower that
later reads it whole. If the window dies, the capture goes on; the next window finds it here.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, QTimer, Signal

from gui.model.heard import Heard
from gui.model.left_over import put_in_order, shown_again
from gui.model.link_words import SILENT_S, link_summary, recorded_for
from gui.model.live_run import LiveRun
from gui.model.nothing_yet import NothingYet
from gui.model.processes import last_words
from gui.model.programs import Programs
from gui.model.watch import Watch, WindowLock, found
from gui.words import tr
from telemetry.errors import LinkError, SidelongError

if TYPE_CHECKING:
    from gui.model.folder import RunFolder
    from gui.model.keeping import Keeper
    from gui.model.messages import Messages
    from gui.model.robots import Robots
    from gui.model.selection import Selection
    from telemetry.recording.load import Recording

POLL_MS = 15
"""The cap on repainting, because every repaint follows a poll: above 60 a second, and no oftener than eyes can follow."""
STARTING_S = 12.0
ASK_AFTER_S = 2.0  # of silence, and again and again, it is asked whether a capture that was found still runs
STATE_EVERY_S = 0.25


class Follow(QObject):
    """One robot at a time. ``run`` is the live run, None before the first bytes."""

    state_changed = Signal()
    """Connected, lost, recording or not, and a few times a second while connected."""
    begun = Signal()
    """Another capture is followed from here on: ``run`` is a new one."""
    grew = Signal(int)
    """That many samples came."""
    silent = Signal(float)
    """Nothing has come for that many seconds; again and again while it lasts."""
    kept = Signal(object)
    """A run was recorded: its path."""

    def __init__(
        self, selection: Selection, folder: RunFolder, robots: Robots, messages: Messages, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._selection, self._folder, self._robots, self._messages = selection, folder, robots, messages
        self.run: LiveRun | None = None
        self.watch: Watch | None = None
        self._hold: WindowLock | None = None
        self.programs = Programs()
        self._started = 0.0
        self._state_at = 0.0
        self._asked = 1
        self._nothing = NothingYet(messages)
        self._awaits: Callable[[], bool] | None = None
        self._again: Callable[[], bool] | None = None
        """Connects to the robot that was connected last."""
        self._heard = Heard(robots, messages)
        self._timer = QTimer(self)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setInterval(POLL_MS)
        self._timer.timeout.connect(self._tick)
        selection.strategy_changed.connect(self._read_anew)
        selection.course_changed.connect(self._read_anew)
        selection.palette_changed.connect(self._read_anew)

    # -- what others ask ----------------------------------------------------------------------------------------------

    @property
    def connected(self) -> bool:
        """A capture runs (or is just starting)."""
        return self.watch is not None

    @property
    def recording(self) -> bool:
        """A run is being recorded."""
        return self.watch is not None and self.watch.begun_us > 0

    @property
    def simulated(self) -> bool:
        return self.watch is not None and self.watch.simulated

    def summary(self) -> str:
        """The state of the link in a few words."""
        return link_summary(self.watch, self.run)

    def recorded_for(self) -> str:
        """How long the run in progress is, empty while none is recorded."""
        return recorded_for(self.watch, self._now_us())

    def _now_us(self) -> int:
        """By the clock of the capture that is followed."""
        return self.run.now_us() if self.run is not None else time.time_ns() // 1000

    # -- connecting ---------------------------------------------------------------------------------------------------

    def start_built_in(self, level: str = "practice", seed: int | None = None, *, speed_up: float = 1.0) -> bool:
        """Let the built-in robot drive round after round, and capture from it. Raises SidelongError."""
        self.disconnect_robot()
        seed = int(time.time()) % 10_000 if seed is None else seed
        watch = self._new_watch(tr("simulated robot"), simulated=True)
        watch.level, watch.seed = level, seed
        watch.save()  # where that cannot be, nothing is begun
        port = self.programs.start_robot(watch, self._selection.robot_words(level, seed, speed_up))
        self._note(watch)
        self.watch = watch
        self._started = time.monotonic()

        def has_spoken() -> bool:
            if served := port():
                self._start_capture(served)
            return bool(served)

        self._awaits = has_spoken
        return self._begun(lambda: self.start_built_in(level, seed, speed_up=speed_up))

    def connect_robot(self, source: str) -> bool:
        """Capture from a port, a socket or a Bluetooth device. Raises SidelongError."""
        self.disconnect_robot()
        watch = self._new_watch(source, simulated=False)
        watch.save()
        self.watch = watch
        self._start_capture(source)
        return self._begun(lambda: self.connect_robot(source))

    def _begun(self, again: Callable[[], bool]) -> bool:
        self._again = again
        self.run = None  # the one before is over: Record begins nothing in it
        self._timer.start()
        self.state_changed.emit()
        return True

    def _new_watch(self, title: str, *, simulated: bool) -> Watch:
        watch = Watch.new(self._folder.path, title, simulated=simulated)
        self._hold = WindowLock(watch)
        return watch

    def _note(self, watch: Watch) -> None:
        """Where there is no room for notes that is told, and everything else goes on."""
        self._messages.attempt(watch.save)

    def _let_go(self) -> None:
        """Another window may look after the capture from now on."""
        if self._hold is not None:
            self._hold.release()
            self._hold = None

    def _start_capture(self, source: str) -> None:
        watch = self.watch
        assert watch is not None
        watch.source = source
        self.programs.start_capture(watch, self._robots.capture_words())
        self._note(watch)
        self._started = time.monotonic()
        self._awaits = self._journal_is_there

    def _journal_is_there(self) -> bool:
        watch = self.watch
        assert watch is not None
        if watch.journal.exists():
            self._follow_journal()
            return True
        if self.programs.capture_has_ended:
            raise LinkError(last_words(watch.log) or tr("the capture ended before it began"))
        return False

    def _follow_journal(self) -> None:
        assert self.watch is not None
        self.run = LiveRun(Path(self.watch.recording), self._selection)
        self.begun.emit()

    def find_running(self) -> bool:
        """A capture of a window that died: follow it from here on. What a dead capture left is kept or cleared away."""
        if self.watch is not None:
            return False
        for watch, hold in found(self._folder.path, self._messages.tell):
            if self.watch is None and watch.captures and watch.journal.exists():
                self.watch, self._hold = watch, hold
                self._follow_journal()
                self._timer.start()
                self._messages.tell(shown_again(watch))
                continue
            put_in_order(watch, lambda: self._keeper, self._messages)
            hold.release()
        self.state_changed.emit()
        return self.watch is not None

    def reconnect(self) -> None:
        """To the robot that was connected last."""
        if self._again is not None:
            self._messages.attempt(self._again)

    def use_columns(self, columns: str) -> None:
        """The columns of a robot that sends no header; the robot that is connected is connected anew."""
        self._robots.columns = columns
        if self.connected:
            self.reconnect()

    def disconnect_robot(self) -> None:
        """End the capture in order; what was not recorded is thrown away."""
        watch = self.watch
        if watch is None:
            return
        if watch.begun_us:
            self.stop_recording()
        self._timer.stop()
        self._awaits = None
        self._nothing.over()
        if self.run is not None:
            self.run.close()
        self.programs.end(watch)
        self._part_from(watch)
        self.state_changed.emit()

    def _part_from(self, watch: Watch) -> None:
        """Its programs have ended. A run that could not be kept stays noted: it is tried again at the next start."""
        self.watch = None
        if not watch.begun_us:
            watch.forget()
        self._let_go()

    # -- recording ----------------------------------------------------------------------------------------------------

    def start_recording(self) -> None:
        """From now on is a run; while the robot drives already, from where it began to move."""
        if self.watch is None or self.watch.begun_us:
            return
        self.watch.begun_us = begun = self._now_us() if self.run is None else self.run.begin_run()
        self.watch.marks = [mark for mark in self.watch.marks if int(mark[0]) >= begun]
        self._note(self.watch)
        self.state_changed.emit()

    def stop_recording(self) -> Path | None:
        """The run ends here and is kept; its path, or None where it could not be kept, which is told."""
        if (watch := self.watch) is None or not watch.begun_us:
            return None
        path = self._keeper.keep_begun(watch, self._now_us(), self.run)
        if watch.begun_us:  # not kept, and told: the key may be pressed again
            return None
        self._note(watch)
        if self.run is not None:
            self.run.end_run()
        self.state_changed.emit()
        return self._told_of(path)

    def _told_of(self, path: Path | None) -> Path | None:
        if path is not None:
            self.kept.emit(path)
        return path

    @property
    def _keeper(self) -> Keeper:
        from gui.model.keeping import Keeper  # numpy and more: not before a run is kept

        return Keeper(self._folder, self._selection.labels, self._messages)

    def drop_recording(self) -> None:
        """What was begun was no run: forget its begin."""
        if self.watch is not None and self.watch.begun_us:
            self.watch.begun_us = 0
            self._note(self.watch)
            if self.run is not None:
                self.run.end_run()
            self.state_changed.emit()

    def simulated_truth(self, recording: Recording) -> str:
        """What the built-in robot said stood there in a run of one drive; empty where it is not known."""
        watch, run = self.watch, self.run
        if watch is None or run is None or not watch.simulated:
            return ""
        return self._keeper.truth(watch, recording, run)

    def keep_last(self, seconds: float) -> Path | None:
        """Keep what has just happened although nobody pressed the key in time."""
        if self.watch is None:
            return None
        return self._told_of(self._keeper.keep_last(self.watch, seconds, self._now_us(), self.run))

    def mark(self, text: str = "") -> None:
        """Mark this moment; kept with the run that is being recorded."""
        if self.watch is None:
            return
        words = text or tr("mark {number}", number=len(self.watch.marks) + 1)
        self.watch.marks.append([self._now_us(), words])
        self._note(self.watch)
        if self.run is not None:
            self.run.mark(words)

    # -- following ----------------------------------------------------------------------------------------------------

    def _tick(self) -> None:
        if self._awaits is not None:
            self._wait_for_start()
            return
        if (run := self.run) is None:
            return
        try:
            new = run.poll()
        except SidelongError as error:
            self._lost(str(error))
            return
        if new:
            self._heard.note(self.watch, self._again)
            self.grew.emit(new)
        elif run.silence_s > SILENT_S:
            self.silent.emit(run.silence_s)
        clock = time.monotonic()
        if clock - self._state_at >= STATE_EVERY_S:
            self._state_at = clock
            wired = self.watch is not None and self.watch.by_wire
            run.look_at_link(self._robots.baud if wired else None)
            self.state_changed.emit()
            self._check_capture(run)

    def _wait_for_start(self) -> None:
        awaits = self._awaits
        assert awaits is not None
        try:
            if awaits():
                if self._awaits is awaits:
                    self._awaits = None
                self.state_changed.emit()
            elif time.monotonic() - self._started > STARTING_S:
                raise LinkError(tr("nothing came within {seconds:.0f} seconds", seconds=STARTING_S),
                                todo=tr("Is the robot switched on?"))  # fmt: skip
        except (SidelongError, OSError) as error:
            self._lost(str(error))

    def _check_capture(self, run: LiveRun) -> None:
        """A capture that has ended by itself: say why, keep what was being recorded."""
        assert self.watch is not None
        self._nothing.look(run, self.watch, self.disconnect_robot)
        if self.programs.capture is None:  # of a window that died: it cannot be waited for
            if run.silence_s < ASK_AFTER_S * self._asked or self.watch.captures:
                self._asked = int(run.silence_s / ASK_AFTER_S) + 1
                return
        elif not self.programs.capture_has_ended:
            return
        self._lost(last_words(self.watch.log) or tr("The robot's stream has ended"))

    def _lost(self, words: str) -> None:
        watch = self.watch
        self._timer.stop()
        self._awaits = None
        if watch is not None:
            # The journal may have become a recording by now: both are read by the same cut.
            self.programs.end(watch)
            if watch.begun_us:
                if (path := self.stop_recording()) is not None:
                    words = tr("{words}. The run is kept up to here: {name}.", words=words.rstrip("."), name=path.name)
                elif watch.begun_us:
                    why = (self._messages.current.text if self._messages.current else words).rstrip(".")
                    words = tr("{why}. The run could not be kept; it is tried again at the next start.", why=why)
            if self.run is not None:
                self.run.close()
            self._part_from(watch)
        self.state_changed.emit()
        action, does = self._heard.way_back(self._again, self.reconnect)
        self._messages.tell(words, "bad", action=action, does=does, cause="link")

    def _read_anew(self) -> None:
        if self.run is not None:
            self.run.read_anew()

    def close(self) -> None:
        """The window closes. A capture that records goes on and is found again; one that only shows ends."""
        self._timer.stop()
        if self.recording:
            if self.run is not None:
                self.run.close()
            self._let_go()
            self.programs.leave()
            return
        self.disconnect_robot()
