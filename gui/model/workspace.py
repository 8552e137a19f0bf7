"""What all places share: settings, look, folder of runs, the course and palette in use, and ways to tell the user.

Nothing heavy is loaded when it is made: the first picture of the window must not wait for it.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QUndoStack

from gui.model.code_consent import CodeConsent
from gui.model.messages import Messages
from gui.model.season import Season, SeasonKind
from gui.model.settings import UserSettings
from gui.model.strategy_name import FILES, strategy_name
from gui.model.watch import ROBOT_RESTS_S
from gui.theme import LIGHT, Theme
from gui.words import tr
from telemetry.errors import SidelongError
from telemetry.live.defaults import default_strategy

if TYPE_CHECKING:
    from gui.model.follow import Follow
    from gui.model.shelf import Shelf
    from gui.model.standings import Standings
    from gui.model.verdicts import RunResults
    from gui.swatches import SwatchBook
    from telemetry.course import Course
    from telemetry.palette import Palette
    from telemetry.reading.strategy import Strategy
    from telemetry.recording.meta import Meta
    from telemetry.replay.scoring import results

Result = TypeVar("Result")
RECENT_ROBOTS, KNOWN_ROBOTS = 4, 20


class Workspace(QObject):
    """Shared by all places; each thing is made when it is first asked for."""

    theme_changed = Signal(object)
    wanted = Signal(str, object)
    """Go to a place, with something to show there (or None)."""
    course_changed = Signal()
    palette_changed = Signal()
    strategy_changed = Signal()
    own_strategies_changed = Signal()

    def __init__(self, settings: UserSettings, folder: Path, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.settings = settings
        self.folder = folder
        self.theme: Theme = LIGHT
        self.messages = Messages(self)
        self.undo = QUndoStack(self)
        self.code = CodeConsent()
        self._course: Course | None = None
        self._palette: Palette | None = None
        self._book: SwatchBook | None = None
        self._follow: Follow | None = None
        self._shelf: Shelf | None = None
        self._standings: Standings | None = None
        self.season = Season()

    # -- telling the user ---------------------------------------------------------------------------------------------

    def tell(
        self, text: str, kind: str = "good", *, action: str = "", does: Callable[[], object] | None = None, cause: str = ""
    ) -> None:
        """See Messages.tell."""
        self.messages.tell(text, kind, action=action, does=does, cause=cause)

    def go(self, place: str, what: object = None) -> None:
        self.wanted.emit(place, what)

    def attempt(self, work: Callable[[], Result]) -> Result | None:
        """Do ``work``; what goes wrong is told in its one sentence, and None comes back."""
        try:
            return work()
        except SidelongError as error:
            self.tell(str(error), "bad")
        except OSError as error:
            where = f"{error.filename}: " if error.filename else ""
            self.tell(f"{where}{(error.strerror or str(error)).lower()}", "bad")
        return None

    # -- what is in use -----------------------------------------------------------------------------------------------

    @property
    def course(self) -> Course:
        """The course runs are recorded on: the last one chosen, else Orchard Row."""
        if self._course is None:
            from telemetry.course import load_course
            from telemetry.sources.synthetic.run import built_in_course

            chosen = self.settings.text("course")
            if chosen:
                self._course = self.attempt(lambda: load_course(Path(chosen)))
            self._course = self._course or built_in_course(self.variant)
        return self._course

    @property
    def variant(self) -> str:
        """Which of the built-in courses: row, two (two sensors), back (a leg driven backwards)."""
        return self.settings.text("variant", "row")

    def use_folder(self, folder: Path) -> bool:
        """Keep and show runs in another folder from now on; not while a robot is connected, which is told."""
        if folder.resolve() == self.folder.resolve():
            return True
        if self.follow.connected:

            def move() -> None:
                self.follow.disconnect_robot()
                if self.use_folder(folder):
                    self.go("runs")

            words = tr("A robot's runs go to {folder} now: disconnect it first.", folder=self.folder)
            self.tell(words, "warn", action=tr("Disconnect, and show {name}", name=folder.name), does=move, cause="link")
            return False
        self.folder = folder = folder.resolve()
        self.settings.set_text("folder", str(folder))
        self.undo.clear()  # nobody means runs that are out of sight
        self.tell(tr("Runs are shown from {folder}, and kept there, from now on.", folder=folder))
        self.shelf.move_in()
        self.follow.find_running()
        return True

    def use_course(self, path: Path) -> bool:
        """Use a course file; False where it cannot be read, which is told."""
        from telemetry.course import load_course

        course = self.attempt(lambda: load_course(path))
        if course is not None:
            self._use(course, str(path))
        return course is not None

    def change(self, text: str, does: Callable[[], object], undoes: Callable[[], object]) -> None:
        """Do what can be taken back, now and by Ctrl+Z."""
        from gui.model.undoable import Undoable

        self.undo.push(Undoable(text, does, undoes))

    def choose_palette(self, path: Path | None) -> bool:
        """As ``use_palette``, by hand: it is told, and can be undone. False where it cannot be read, which is told."""
        from telemetry.palette_file import read_palette

        before = self.settings.text("palette")
        if str(path or "") == before:
            return True
        if path is not None and self.attempt(lambda: read_palette(path)) is None:
            return False
        was = Path(before) if before else None
        self.change(tr("choice of palette"), lambda: self.use_palette(path), lambda: self.use_palette(was))
        name = tr("Typical colours") if path is None else path.stem
        self.tell(tr("In use from now on: {name}.", name=name), action=tr("Undo"), does=self.undo.undo, cause="undo")
        return True

    def choose_strategy(self, name: str) -> None:
        """As ``use_strategy``, by hand: it can be undone."""
        before = self.strategy
        if name == before:
            return
        self.change(tr("choice of strategy"), lambda: self.use_strategy(name), lambda: self.use_strategy(before))
        self.tell(tr("In use from now on: {name}.", name=strategy_name(name)), action=tr("Undo"), does=self.undo.undo,
                  cause="undo")  # fmt: skip

    def use_built_in_course(self, variant: str) -> None:
        """Use Orchard Row or one of its variants."""
        from telemetry.sources.synthetic.run import built_in_course

        self.settings.set_text("variant", variant)
        self._use(built_in_course(variant), "")

    def _use(self, course: Course, setting: str) -> None:
        self._course, self._book = course, None
        self.settings.set_text("course", setting)
        self.course_changed.emit()

    @property
    def palette(self) -> Palette | None:
        """What each colour looks like to the sensor: the last palette chosen; None: typical values, made for each stream."""
        chosen = self.settings.text("palette")
        if self._palette is None and chosen:
            from telemetry.palette_file import read_palette

            self._palette = self.attempt(lambda: read_palette(Path(chosen)))
            if self._palette is None:
                self.settings.set_text("palette", "")
        return self._palette

    def use_palette(self, path: Path | None) -> bool:
        from telemetry.palette_file import read_palette

        palette = None if path is None else self.attempt(lambda: read_palette(path))
        if palette is None and path is not None:
            return False
        self._palette = palette
        self.settings.set_text("palette", "" if path is None else str(path))
        self.palette_changed.emit()
        return True

    @property
    def book(self) -> SwatchBook:
        """The swatches: the course's colours first, so that their letters and patterns never change."""
        if self._book is None:
            from gui.swatches import SwatchBook

            self._book = SwatchBook(self.course.colours)
        return self._book

    @property
    def strategy(self) -> str:
        """The strategy that live readings are made with: a name, or a file for as long as it is there (code: may run)."""
        chosen = self.settings.text("strategy")
        kind = Path(chosen).suffix
        gone = (kind in FILES and not Path(chosen).is_file()) or (kind == ".py" and chosen not in self.code.in_use())
        return chosen if chosen and not gone else default_strategy(self.course)

    def live_strategy(self) -> Strategy:
        """The strategy itself. Raises StrategyError."""
        from telemetry.reading.load import load_strategy

        return load_strategy(self.strategy)

    def robot_words(self, level: str, seed: int, speed_up: float) -> list[str]:
        """The built-in robot as a command: round after round, of the kind chosen under Start."""
        words = ["robot", "--level", level, "--seed", str(seed), "--day", str(seed), "--loop-runs", "0"]
        words += ["--rest", str(ROBOT_RESTS_S)]
        if not self.settings.text("course"):
            words += {"two": ["--two-sensors"], "back": ["--reversing"]}.get(self.variant, [])
        return words + (["--speed-up", f"{speed_up:g}"] if speed_up != 1.0 else [])

    def capture_words(self) -> list[str]:
        """What the capture process is told besides the source: how to talk, what the columns are; no more than a journal.

        Runs are cut out of its journal. A recording of all of it is nobody's wish, and after an hour it would take seconds.
        """
        words = ["--quiet", "--journal-only", "--baud", str(self.baud)]
        columns = self.settings.text("columns")
        return [*words, "--columns", columns] if columns else words

    @property
    def recent_robots(self) -> list[str]:
        """Addresses that were connected to, the last one first."""
        return [address for address in self.settings.text("recent_robots").split("\n") if address]

    @property
    def last_robot(self) -> str:
        """Empty where none was connected yet."""
        return next(iter(self.recent_robots), "")

    def note_robot(self, address: str) -> None:
        """It was connected to, and is offered again at the next start."""
        known = dict.fromkeys([address, *self.recent_robots])
        self.settings.set_text("recent_robots", "\n".join([*known][:RECENT_ROBOTS]))

    def is_known_robot(self, address: str) -> bool:
        """Whether lines of a robot at this address were understood before."""
        return address in self.settings.text("known_robots").split("\n")

    def know_robot(self, address: str) -> None:
        known = dict.fromkeys([address, *self.settings.text("known_robots").split("\n")])
        self.settings.set_text("known_robots", "\n".join([one for one in known if one][:KNOWN_ROBOTS]))

    def use_columns(self, columns: str) -> None:
        """The columns of a robot that sends no header; the robot that is connected is connected anew."""
        self.settings.set_text("columns", columns)
        if self.follow.connected:
            self.follow.reconnect()

    @property
    def baud(self) -> int:
        """Bits a second on a serial port."""
        text = self.settings.text("baud", "115200")
        return int(text) if text.isdigit() and int(text) > 0 else 115200

    def labels(self) -> Meta:
        """The labels that the next run gets: what was noted about light, height and battery, kept from run to run."""
        from telemetry.recording.meta import Meta

        height = self.settings.text("height_mm")
        return Meta(
            course=self.course.text, robot=self.settings.text("robot"), light=self.settings.text("light"),
            height_mm=float(height) if height else None, battery=self.settings.text("battery"),
            remarks=self.settings.text("remarks"), driven_by=self.settings.text("driven_by"), strategy=self.strategy,
        )  # fmt: skip

    @property
    def own_strategies(self) -> list[str]:
        """Strategy files kept by hand, those in the folder, and code that may run until the window closes."""
        here = [str(one.path.resolve()) for one in self.season.files(self.folder, SeasonKind.STRATEGY)]
        return [*dict.fromkeys([*self._kept_strategies, *reversed(here), *self.code.in_use()])]

    @property
    def _kept_strategies(self) -> list[str]:
        paths = [Path(path) for path in self.settings.text("own_strategies").split("\n") if path]
        return [str(path) for path in paths if path.suffix == ".toml" and path.is_file()]

    def keep_own_strategy(self, path: Path) -> None:
        paths = dict.fromkeys([*self._kept_strategies, str(path.resolve())])
        self.settings.set_text("own_strategies", "\n".join(paths))
        self.own_strategies_changed.emit()

    def use_strategy(self, name: str) -> None:
        self.settings.set_text("strategy", name)
        self.strategy_changed.emit()

    @property
    def follow(self) -> Follow:
        """The robot link and the run that is being captured."""
        if self._follow is None:
            from gui.model.follow import Follow

            self._follow = Follow(self, self)
        return self._follow

    @property
    def shelf(self) -> Shelf:
        """The recorded runs."""
        if self._shelf is None:
            from gui.model.shelf import Shelf

            self._shelf = Shelf(self, self)
        return self._shelf

    @property
    def standings(self) -> Standings:
        """How each run stands with the strategy in use."""
        if self._standings is None:
            from gui.model.standings import Standings

            self._standings = Standings(self, self)
        return self._standings

    def note_result(self, path: Path, result: results.Result) -> None:
        """One strategy's result on a run that was replayed for something else."""
        if self._standings is not None:
            self._standings.note(path, result)

    def note_verdict(self, verdict: RunResults) -> None:
        """The same for all strategies on one run."""
        for result in verdict.results:
            self.note_result(verdict.path, result)

    def close(self) -> None:
        """Stop whatever runs in the background."""
        if self._follow is not None:
            self._follow.close()
        if self._standings is not None:
            self._standings.close()
        if self._shelf is not None:
            self._shelf.close()
        self.settings.save()

    def simulated_word(self) -> str:
        """How simulated data is marked wherever it is shown."""
        return tr("simulated")
