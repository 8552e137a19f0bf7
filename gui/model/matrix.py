"""Runs times strategies: every result, worked out on a thread and told run by run, with variants of a strategy following."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from gui.model.jobs import Job, Jobs
from telemetry.reading.load import load_strategy
from telemetry.reading.strategies import STRATEGIES
from telemetry.replay.evaluate import Ask, Evaluator, Given
from telemetry.replay.scoring.results import ROBOT, Result, StrategySummary, summarise
from telemetry.replay.scoring.score import Outcome
from telemetry.replay.sources import chosen_strategies

if TYPE_CHECKING:
    from gui.model.messages import Messages
    from gui.model.selection import Selection
    from gui.model.standings import Standings
    from telemetry.reading.strategy import Strategy
    from telemetry.replay.verdict_kind import Verdict

ALL = "all"
"""All the strategies there are."""
VARIANT = "changed"
"""The column of the strategy whose settings are being tried out."""


@dataclass(frozen=True, slots=True)
class Own:
    """A strategy that was kept in a file, as it was read."""

    file: str
    strategy: Strategy


@dataclass(frozen=True, slots=True)
class _Done:
    path: Path
    kind: str
    age: tuple[object, ...]
    results: tuple[Result, ...]
    problem: str = ""


class Matrix(QObject):
    """``results`` are the cells by (run, column). Columns: the strategies, beside one its variant; the robot itself."""

    changed = Signal()
    """Columns or rows are others."""
    filled = Signal(object)
    """One run's cells were worked out: its path."""
    progressed = Signal(int, int)
    ended = Signal()
    cause_found = Signal(object)

    def __init__(
        self, selection: Selection, standings: Standings, messages: Messages, evaluator: Evaluator,
        parent: QObject | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self.selection = selection
        self._standings, self._messages = standings, messages
        self.paths: list[Path] = []
        self.columns: list[str] = [*STRATEGIES]
        self.results: dict[tuple[Path, str], Result] = {}
        self.problems: dict[Path, str] = {}
        self.causes: dict[Path, Verdict] = {}
        """For runs that some strategy misread: was it the sensor or the logic? Worked out after everything else."""
        self.variant_spec = ""
        self._asking_causes = False
        self.stopped = False
        """The user has cancelled."""
        self._evaluator = evaluator
        self._jobs = Jobs()
        self._job: Job | None = None
        self._trying = False
        """The changed strategy is to be worked out."""
        self._all_age = 0
        self.own: dict[str, Own] = {}
        """Columns of strategies that were kept in a file."""
        self.take_own()
        self._ages: dict[Path, int] = {}
        self._done: dict[tuple[Path, str], tuple[object, ...]] = {}

    # -- asking -------------------------------------------------------------------------------------------------------

    @property
    def busy(self) -> bool:
        """Whether cells are being worked out."""
        return self._job is not None and not self._asking_causes

    @property
    def base(self) -> str:
        """The strategy whose settings are being changed, empty where none is."""
        return self.variant_spec.partition(":")[0]

    def change(self) -> tuple[list[Path], list[Path]] | None:
        """Runs that the changed strategy reads right and the strategy as it was does not, and the other way round.

        None where there is no changed strategy, or not all of it was worked out.
        """
        if not self.variant_spec:
            return None
        won: list[Path] = []
        lost: list[Path] = []
        for path in self.paths:
            before, after = self.results.get((path, self.base)), self.results.get((path, VARIANT))
            if path in self.problems:
                continue
            if before is None or after is None:
                return None
            was, is_now = before.outcome is Outcome.RIGHT, after.outcome is Outcome.RIGHT
            if was != is_now:
                (won if is_now else lost).append(path)
        return won, lost

    def is_read(self, path: Path) -> bool:
        """Whether some strategy reads the run right."""
        return any(
            (result := self.results.get((path, column))) is not None and result.outcome is Outcome.RIGHT
            for column in self.columns
        )

    def take_own(self) -> None:
        """The strategies kept in files, as columns; files that were changed or removed meanwhile are read anew."""
        own: dict[str, Own] = {}
        for spec in self.selection.own_strategies:
            strategy = self._messages.attempt(lambda spec=spec: load_strategy(spec))  # type: ignore[misc]
            name, number = Path(spec).stem, 2
            while name in {*STRATEGIES, VARIANT, ROBOT, *own}:  # a file of this name in another folder, say
                name, number = f"{Path(spec).stem} {number}", number + 1
            if strategy is not None:
                own[name] = Own(spec, strategy)
        ends = [column for column in self.columns if column == ROBOT]
        kept = [column for column in self.columns if column in STRATEGIES or column == VARIANT]
        self.own, self.columns = own, [*kept, *own, *ends]

    def spec_of(self, column: str) -> str:
        """What a column's strategy is called where it is replayed."""
        return self.own[column].file if column in self.own else self.variant_spec if column == VARIANT else column

    @property
    def in_use(self) -> str:
        """The column of the strategy in use; its name where it has none."""
        spec = self.selection.strategy
        return next((name for name, own in self.own.items() if own.file == spec), spec)

    def _strategy(self, column: str) -> Strategy:
        """As its results were made, whatever has become of its file. Raises StrategyError."""
        return self.own[column].strategy if column in self.own else load_strategy(self.spec_of(column))

    def result(self, path: Path, column: str) -> Result | None:
        return self.results.get((path, column))

    def idle(self) -> list[str]:
        """Strategies that say nothing of any of these runs, once all are worked out."""
        if self.busy or not self.results:
            return []
        mine = [column for column in self.columns if column not in (ROBOT, VARIANT)]
        return [column for column in mine if not self.summary(column).runs]

    def summary(self, column: str) -> StrategySummary:
        """What one column adds up to."""
        mine = [result for path in self.paths if (result := self.results.get((path, column))) is not None]
        return summarise(column, [_as(result, column) for result in mine])

    def all_results(self) -> list[Result]:
        """Every cell of the strategies, under the names of their columns."""
        return [_as(result, column) for (_path, column), result in self.results.items()]

    def explained(self, path: Path, column: str) -> Result | None:
        """One cell again, with its reasons. Raises SidelongError."""
        result = self.results.get((path, column))
        if result is None or column == ROBOT or result.why:
            return result
        strategies = {column: self._strategy(column)}
        (found,) = self._evaluator.evaluate([path], strategies, self._given(), ask=Ask(why=True))
        for error in (found.problem, *found.failed.values()):
            if error is not None:
                raise error
        explained = found.results[0]
        self.results[path, column] = explained
        return explained

    # -- working ------------------------------------------------------------------------------------------------------

    def show_runs(self, paths: Sequence[Path]) -> None:
        """Compare on these runs."""
        self.cancel()
        self.stopped = False
        self._trying = bool(self.variant_spec)
        self.paths = list(paths)
        self.results = {key: result for key, result in self.results.items() if key[0] in self.paths}
        self.problems = {path: words for path, words in self.problems.items() if path in self.paths}
        self._done = {key: age for key, age in self._done.items() if key[0] in self.paths}
        self.changed.emit()
        self._go_on()

    def try_out(self, spec: str) -> None:
        """A strategy with other settings (``hold:hold.samples=2``) as a column of its own; empty: no such column."""
        if spec == self.variant_spec:
            return
        self.variant_spec = spec
        self._trying = bool(spec)
        self.results = {key: result for key, result in self.results.items() if key[1] != VARIANT}
        self.columns = [column for column in self.columns if column != VARIANT]
        if spec:
            self.columns.insert(self.columns.index(self.base) + 1, VARIANT)
        self.changed.emit()
        if self._job is not None:
            self._job.cancel()  # what it has not done yet comes after the changed strategy
        self._go_on()

    def _age(self, path: Path, kind: str) -> tuple[object, ...]:
        """What a result of this run depends on; one of another age is not taken, and is worked out again."""
        return (self._all_age, self._ages.get(path, 0), self.variant_spec if kind == VARIANT else "")

    def _missing(self, kind: str) -> list[Path]:
        return [path for path in self.paths if self._done.get((path, kind)) != self._age(path, kind)]

    def _go_on(self) -> None:
        """Work out what is missing: the changed strategy first, then all others, then the causes."""
        if self._job is not None:
            return
        if self._trying and (paths := self._missing(VARIANT)):
            self._start(VARIANT, paths, [VARIANT])
        elif not self.stopped and (paths := self._missing(ALL)):
            self._start(ALL, paths, [column for column in self.columns if column not in (ROBOT, VARIANT)])
        else:
            self.ended.emit()
            if not self.stopped:
                self._ask_causes()

    def _start(self, kind: str, paths: list[Path], columns: list[str]) -> None:
        named = self._messages.attempt(lambda: {column: self._strategy(column) for column in columns})
        if named is None:
            self._give_up()
            self.ended.emit()
            return

        own = {column for column in columns if column in self.own}
        given = self._given()
        ages = {path: self._age(path, kind) for path in paths}

        def work(job: Job) -> object:
            for one in self._evaluator.each(
                paths, named, given, progress=lambda done: job.tell(done, len(paths)), cancelled=lambda: job.cancelled
            ):
                # A strategy that was kept may not fit this course; the others do.
                failed = [error for column, error in one.failed.items() if column not in own]
                problem = one.problem or next(iter(failed), None)
                results = () if failed else (*one.results, *([one.robot] if one.robot is not None else []))
                job.give(_Done(one.path, kind, ages[one.path], results, str(problem or "")))
            return None

        self._job = Job(work, self)
        self._job.piece.connect(self._take)
        self._job.progressed.connect(self.progressed)
        self._job.failed.connect(lambda words: self._messages.tell(words, "bad"))
        self._job.failed.connect(lambda _words: self._give_up())
        self._job.ended.connect(self._over)
        self._jobs.start(self._job)

    def _give_up(self) -> None:
        """Nothing begins again by itself."""
        self.stopped, self._trying = True, False

    def _given(self) -> Given:
        """What stands in for what the recordings say."""
        return Given(palette=self.selection.palette)

    def _take(self, done: object) -> None:
        assert isinstance(done, _Done)
        if done.age != self._age(done.path, done.kind):
            return
        self._done[done.path, done.kind] = done.age
        self.problems.pop(done.path, None)
        if done.problem:
            self.problems[done.path] = done.problem
        for result in done.results:
            self.results[done.path, result.strategy] = result
            self._standings.note(done.path, result)
            if result.strategy == ROBOT and ROBOT not in self.columns:
                self.columns.append(ROBOT)
                self.changed.emit()
        self.filled.emit(done.path)

    def _over(self) -> None:
        job, self._job = self._job, None
        asked, self._asking_causes = self._asking_causes, False
        if not asked or (job is not None and job.cancelled):
            self._go_on()

    def _ask_causes(self) -> None:
        """Whether sensor or logic failed, for every run that some strategy misread: quietly, one after the other."""
        wrong = {path for (path, _column), result in self.results.items() if result.outcome is Outcome.WRONG}
        paths = [path for path in self.paths if path in wrong and path not in self.causes]
        if not paths:
            return
        strategies = chosen_strategies((), ())

        given = self._given()
        ages = {path: self._age(path, ALL) for path in paths}

        def work(job: Job) -> object:
            ask = Ask(verdict=True)
            for one in self._evaluator.each(paths, strategies, given, ask=ask, cancelled=lambda: job.cancelled):
                verdict = next((result.verdict for result in one.results if result.verdict is not None), None)
                job.give((one.path, ages[one.path], verdict))
            return None

        self._asking_causes = True
        self._job = Job(work, self)
        self._job.piece.connect(self._take_cause)
        self._job.ended.connect(self._over)
        self._jobs.start(self._job)

    def _take_cause(self, found: object) -> None:
        assert isinstance(found, tuple)
        path, age, verdict = found
        if verdict is not None and age == self._age(path, ALL):
            self.causes[path] = verdict
            self.cause_found.emit(path)

    def cancel(self) -> None:
        """Stop; what is worked out stays, and nothing begins again by itself."""
        self._give_up()
        if self._job is not None:
            self._job.cancel()

    def forget(self, path: Path) -> None:
        """A run's labels have changed: it is read and judged anew the next time."""
        self._ages[path] = self._ages.get(path, 0) + 1
        self.causes.pop(path, None)
        self.results = {key: result for key, result in self.results.items() if key[0] != path}

    def forget_all(self) -> None:
        """Every run is read and judged anew the next time."""
        self._all_age += 1
        self.take_own()
        self.results.clear()
        self.causes.clear()

    def close(self) -> None:
        self._give_up()
        self._jobs.close()


def _as(result: Result, column: str) -> Result:
    from msgspec.structs import replace

    return result if result.strategy == column else replace(result, strategy=column)
