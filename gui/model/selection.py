"""What is in use: course, palette and strategy, and what follows from them for the next run. Kept in the settings.

Nothing heavy is loaded when it is made: the first picture of the window must not wait for it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from gui.model.code_consent import CodeConsent
from gui.model.messages import Messages
from gui.model.robots import ROBOT_RESTS_S
from gui.model.settings import UserSettings
from gui.model.strategy_name import FILES
from telemetry.live.defaults import default_strategy

if TYPE_CHECKING:
    from gui.model.last_recheck import LastRecheck
    from gui.swatches import SwatchBook
    from telemetry.calibrate.recheck import Recheck
    from telemetry.course import Course
    from telemetry.palette import Palette
    from telemetry.reading.strategy import Strategy
    from telemetry.recording.meta import Meta


MOST_COURSES = 8
FIRST_VARIANT = "row"
"""So many course files are remembered."""


class Selection(QObject):
    """Each thing is read when it is first asked for; a file that cannot be read is told of in ``messages``.

    ``kept``: the strategy files in the folder, asked anew each time.
    """

    course_changed = Signal()
    palette_changed = Signal()
    recheck_changed = Signal()
    strategy_changed = Signal()
    own_strategies_changed = Signal()

    def __init__(
        self, settings: UserSettings, messages: Messages, code: CodeConsent, kept: Callable[[], Sequence[str]],
        parent: QObject | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self._settings, self._messages, self._code, self._in_folder = settings, messages, code, kept
        self._course: Course | None = None
        self._palette: Palette | None = None
        self._book: SwatchBook | None = None

    # -- the course ---------------------------------------------------------------------------------------------------

    @property
    def course(self) -> Course:
        """The course runs are recorded on: the last one chosen, else Orchard Row."""
        if self._course is None:
            from telemetry.course import load_course
            from telemetry.sources.synthetic.run import built_in_course

            chosen = self._settings.text("course")
            if chosen:
                self._course = self._messages.attempt(lambda: load_course(Path(chosen)))
            self._course = self._course or built_in_course(self.variant)
        return self._course

    @property
    def variant(self) -> str:
        """Which of the built-in courses: row, two (two sensors), back (a leg driven backwards)."""
        from telemetry.sources.synthetic.run import COURSES

        kept = self._settings.text("variant", FIRST_VARIANT)
        return kept if kept in COURSES else FIRST_VARIANT  # a later version may have more of them

    def use_course(self, path: Path) -> bool:
        """Use a course file; False where it cannot be read, which is told."""
        from telemetry.course import load_course

        course = self._messages.attempt(lambda: load_course(path))
        if course is not None:
            known = dict.fromkeys([str(path.resolve()), *(str(one) for one in self.course_files)])
            self._settings.set_text("courses", "\n".join([*known][:MOST_COURSES]))
            self._use(course, str(path))
        return course is not None

    @property
    def course_files(self) -> list[Path]:
        """The course files that were used, the latest first, wherever they lie; those that are still there."""
        return [Path(one) for one in self._settings.text("courses").split("\n") if one and Path(one).is_file()]

    def use_built_in_course(self, variant: str) -> None:
        """Use Orchard Row or one of its variants."""
        from telemetry.sources.synthetic.run import built_in_course

        self._settings.set_text("variant", variant)
        self._use(built_in_course(variant), "")

    @property
    def course_choice(self) -> tuple[str, str]:
        """(file, variant): which course was chosen, to come back to. No file: the built-in variant."""
        return self._settings.text("course"), self.variant

    def choose_course(self, choice: tuple[str, str]) -> None:
        """What ``course_choice`` said. A file that is gone is told of."""
        path, variant = choice
        if path:
            self.use_course(Path(path))
        else:
            self.use_built_in_course(variant)

    def _use(self, course: Course, setting: str) -> None:
        self._course = course
        if self._book is not None:
            self._book.begin_anew(course.colours)
        self._settings.set_text("course", setting)
        self.course_changed.emit()

    @property
    def book(self) -> SwatchBook:
        """The swatches: the course's colours first, so that their letters and patterns never change.

        It is one and the same for all pages, also after another course is chosen: a letter means one colour everywhere.
        """
        if self._book is None:
            from gui.swatches import SwatchBook

            self._book = SwatchBook(self.course.colours)
        return self._book

    # -- the palette --------------------------------------------------------------------------------------------------

    @property
    def palette(self) -> Palette | None:
        """What each colour looks like to the sensor: the last palette chosen; None: typical values, made for each stream."""
        chosen = self._settings.text("palette")
        if self._palette is None and chosen:
            from telemetry.palette_file import read_palette

            self._palette = self._messages.attempt(lambda: read_palette(Path(chosen)))
            if self._palette is None:
                self._settings.set_text("palette", "")
        return self._palette

    @property
    def palette_path(self) -> Path | None:
        """The file of the palette in use; None: typical values."""
        chosen = self._settings.text("palette")
        return Path(chosen) if chosen else None

    def use_palette(self, path: Path | None) -> bool:
        from telemetry.palette_file import read_palette

        palette = None if path is None else self._messages.attempt(lambda: read_palette(path))
        if palette is None and path is not None:
            return False
        self._palette = palette
        self._settings.set_text("palette", "" if path is None else str(path))
        self.palette_changed.emit()
        return True

    @property
    def last_recheck(self) -> LastRecheck | None:
        """What was last found of the palette in use, on whatever page and day; None where it was never checked."""
        from gui.model.last_recheck import LastRecheck

        kept = self._settings.text("recheck")
        return LastRecheck.from_text(kept, self._settings.text("palette")) if kept else None

    def note_recheck(self, answer: Recheck) -> None:
        """The palette in use was checked again just now."""
        from gui.model.last_recheck import LastRecheck

        self._settings.set_text("recheck", LastRecheck.of(self._settings.text("palette"), answer).to_text())
        self.recheck_changed.emit()

    # -- the strategy -------------------------------------------------------------------------------------------------

    @property
    def strategy(self) -> str:
        """The strategy that live readings are made with: a name, or a file for as long as it is there (code: may run)."""
        chosen = self._settings.text("strategy")
        kind = Path(chosen).suffix
        gone = (kind in FILES and not Path(chosen).is_file()) or (kind == ".py" and chosen not in self._code.in_use())
        return chosen if chosen and not gone else default_strategy(self.course)

    def live_strategy(self) -> Strategy:
        """The strategy itself. Raises StrategyError."""
        from telemetry.reading.load import load_strategy

        return load_strategy(self.strategy)

    @property
    def own_strategies(self) -> list[str]:
        """Strategy files kept by hand, those in the folder, and code that may run until the window closes."""
        return [*dict.fromkeys([*self._kept_strategies, *self._in_folder(), *self._code.in_use()])]

    @property
    def _kept_strategies(self) -> list[str]:
        paths = [Path(path) for path in self._settings.text("own_strategies").split("\n") if path]
        return [str(path) for path in paths if path.suffix == ".toml" and path.is_file()]

    def keep_own_strategy(self, path: Path) -> None:
        paths = dict.fromkeys([*self._kept_strategies, str(path.resolve())])
        self._settings.set_text("own_strategies", "\n".join(paths))
        self.own_strategies_changed.emit()

    def use_strategy(self, name: str) -> None:
        self._settings.set_text("strategy", name)
        self.strategy_changed.emit()

    # -- the next run -------------------------------------------------------------------------------------------------

    def labels(self) -> Meta:
        """The labels that the next run gets: what was noted about light, height and battery, kept from run to run."""
        from telemetry.recording.meta import Meta

        height = self._settings.text("height_mm")
        return Meta(
            course=self.course.text, robot=self._settings.text("robot"), light=self._settings.text("light"),
            height_mm=float(height) if height else None, battery=self._settings.text("battery"),
            remarks=self._settings.text("remarks"), driven_by=self._settings.text("driven_by"), strategy=self.strategy,
        )  # fmt: skip

    def robot_words(self, level: str, seed: int, speed_up: float) -> list[str]:
        """The built-in robot as a command: round after round, of the kind chosen under Start."""
        words = ["robot", "--level", level, "--seed", str(seed), "--day", str(seed), "--loop-runs", "0"]
        words += ["--rest", str(ROBOT_RESTS_S)]
        if not self._settings.text("course"):
            words += {"two": ["--two-sensors"], "back": ["--reversing"]}.get(self.variant, [])
        return words + (["--speed-up", f"{speed_up:g}"] if speed_up != 1.0 else [])
