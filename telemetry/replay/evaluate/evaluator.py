"""The one evaluator: asks for what is not known yet, has it worked out, and remembers it."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, CancelledError, Executor, Future, wait
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

from msgspec.structs import replace

from telemetry.errors import FaultError, RecordingError, SidelongError
from telemetry.reading.strategy import Strategy
from telemetry.recording.hdf5.expendable import known_of
from telemetry.recording.load import Recording
from telemetry.replay.case import READINGS_ONLY, Ask, Given
from telemetry.replay.evaluate.keys import Stamp, digest, given_key, stamp_of, strategy_key
from telemetry.replay.evaluate.work import EvaluationOrder, RecordingResults, answer_of, work
from telemetry.replay.judge import Read, Reads, settled
from telemetry.replay.scoring.results import Result
from telemetry.replay.verdict_kind import Verdict

BATCH = 12
"""Most recordings that are handed to an executor at once: what is handed over must not outweigh the work."""
AHEAD = 32
"""So many batches are handed over before the first is back; what is cancelled need not wait for more."""
HANDS = 4
"""Among so many processes the work is taken to be shared out, where it is asked what each may expect."""
MOST_KEPT = 20_000
"""Results that are remembered; the oldest go first."""
Progress = Callable[[int], None]
_DIED = "the process that judged this run died of it"
_DIED_TODO = "Is there memory enough? Else leave this run out, and report it if you may"
K = TypeVar("K")
V = TypeVar("V")


@dataclass(frozen=True, slots=True)
class Evaluated:
    """One recording's results, in the order of the strategies asked for.

    ``problem``: why there are none at all. ``failed``: strategies that cannot be built for this run or stumbled over it.
    """

    path: Path
    results: tuple[Result, ...] = ()
    robot: Result | None = None
    problem: SidelongError | None = None
    failed: Mapping[str, SidelongError] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _KnownRun:
    """What is known by heart of one recording under one ``Given``."""

    stamp: Stamp
    given: str


class Evaluator:
    """Remembers every result by what it depends on. Safe to be asked from several threads."""

    def __init__(self) -> None:
        self._lock = threading.RLock()
        self._reads: OrderedDict[tuple[_KnownRun, str], tuple[Read, bool]] = OrderedDict()
        """(run, strategy) -> what was read, and whether it was asked why."""
        self._robots: OrderedDict[_KnownRun, Read | None] = OrderedDict()
        self._failed: OrderedDict[tuple[_KnownRun, str], SidelongError] = OrderedDict()
        self._verdicts: OrderedDict[tuple[_KnownRun, str], Verdict | None] = OrderedDict()

    def evaluate(
        self, paths: Sequence[Path], strategies: Mapping[str, Strategy], given: Given = Given(), *,  # noqa: B008 (frozen)
        ask: Ask = READINGS_ONLY, executor: Executor | None = None, progress: Progress | None = None,
        cancelled: Callable[[], bool] = lambda: False,
    ) -> list[Evaluated]:  # fmt: skip
        """As ``each``, in the order of ``paths``; of a cancelled evaluation those that were finished."""
        order = {path: number for number, path in enumerate(paths)}
        done = self.each(paths, strategies, given, ask=ask, executor=executor, progress=progress, cancelled=cancelled)
        return sorted(done, key=lambda one: order[one.path])

    def each(
        self, paths: Sequence[Path], strategies: Mapping[str, Strategy], given: Given = Given(), *,  # noqa: B008 (frozen)
        ask: Ask = READINGS_ONLY, executor: Executor | None = None, progress: Progress | None = None,
        cancelled: Callable[[], bool] = lambda: False,
    ) -> Iterator[Evaluated]:  # fmt: skip
        """Each recording's results as soon as they are there.

        ``strategies``: label -> strategy. ``executor``: does the work (None: this thread). ``progress`` is told how many
        recordings are done. Where ``cancelled()`` becomes true, or the caller stops taking, nothing more is begun.
        """
        keys = {label: strategy_key(strategy) for label, strategy in strategies.items()}
        stands_in = given_key(given)
        waiting: dict[tuple[str, ...], list[Path]] = {}
        runs: dict[Path, _KnownRun] = {}
        done = 0
        for path in dict.fromkeys(paths):
            run = runs[path] = _KnownRun(stamp_of(path), stands_in)
            missing = self._missing(run, keys, ask)
            if missing is not None:
                waiting.setdefault(missing, []).append(path)
                continue
            if cancelled():
                return
            done += 1
            if progress:
                progress(done)
            yield self._told(path, run, keys, ask)
        for labels, todo in waiting.items():
            chosen = {label: strategies[label] for label in labels}
            name = digest([stands_in, repr(ask), *(f"{label} {keys[label]}" for label in labels)])
            order = EvaluationOrder(name, chosen, given, ask, len(todo) * len(chosen) // HANDS)
            for answer in _answers(order, todo, executor, cancelled):
                run = runs[answer.path]
                self._keep(run, keys, answer, ask, labels)
                done += 1
                if progress:
                    progress(done)
                if answer.problem is not None:
                    yield Evaluated(answer.path, problem=answer.problem)
                else:
                    yield self._told(answer.path, run, keys, ask, answer)

    def one(
        self, recording: Recording, strategies: Mapping[str, Strategy], given: Given = Given(), *,  # noqa: B008 (frozen)
        ask: Ask = READINGS_ONLY,
    ) -> Evaluated:  # fmt: skip
        """The results of a recording that is loaded already, just as it stands in its file; in this thread."""
        keys = {label: strategy_key(strategy) for label, strategy in strategies.items()}
        run = _KnownRun(stamp_of(recording.path), given_key(given))
        missing = self._missing(run, keys, ask)
        if missing is None:
            return self._told(recording.path, run, keys, ask)
        order = EvaluationOrder("", {label: strategies[label] for label in missing}, given, ask)
        answer = answer_of(order, recording.path, lambda: recording)
        self._keep(run, keys, answer, ask, missing)
        if answer.problem is not None:
            return Evaluated(recording.path, problem=answer.problem)
        return self._told(recording.path, run, keys, ask, answer)

    def known(
        self, path: Path, label: str, strategy: Strategy, given: Given = Given()  # noqa: B008 (frozen)
    ) -> Result | None:
        """A result that is remembered and still holds, as if its strategy had been asked for alone; else None."""
        with self._lock:
            found = self._reads.get((_KnownRun(stamp_of(path), given_key(given)), strategy_key(strategy)))
        return _named(settled([found[0]])[0], label) if found is not None else None

    def _missing(self, run: _KnownRun, keys: Mapping[str, str], ask: Ask) -> tuple[str, ...] | None:
        """The strategies that have to be replayed: all where a verdict is to be found, which depends on all; None: none."""
        with self._lock:
            if ask.verdict and (run, _company(keys)) not in self._verdicts:
                return tuple(keys)
            missing = tuple(
                label for label, key in keys.items()
                if (run, key) not in self._failed
                and ((found := self._reads.get((run, key))) is None or (ask.why and not found[1]))
            )  # fmt: skip
            return missing if missing or run not in self._robots else None

    def _keep(
        self, run: _KnownRun, keys: Mapping[str, str], answer: RecordingResults, ask: Ask, labels: Sequence[str]
    ) -> None:
        if answer.reads is None:
            return
        with self._lock:
            _put(self._robots, run, answer.reads.robot)
            for label, read in answer.reads.of.items():
                _put(self._reads, (run, keys[label]), (read, ask.why))
            for label, error in answer.reads.failed.items():
                _put(self._failed, (run, keys[label]), error)
            if ask.verdict and len(labels) >= len(keys):
                _put(self._verdicts, (run, _company(keys)), answer.verdict)

    def _told(
        self, path: Path, run: _KnownRun, keys: Mapping[str, str], ask: Ask, answer: RecordingResults | None = None
    ) -> Evaluated:
        """The results of one recording, put together from what is remembered and what has just come."""
        fresh = answer.reads if answer is not None and answer.reads is not None else Reads()
        with self._lock:
            of = {label: found[0] for label, key in keys.items() if (found := self._reads.get((run, key))) is not None}
            failed = {label: error for label, key in keys.items() if (error := self._failed.get((run, key))) is not None}
            robot = fresh.robot or self._robots.get(run)
            verdict = self._verdicts.get((run, _company(keys))) if ask.verdict else None
        of, failed = {**of, **fresh.of}, {**failed, **fresh.failed}
        labels = [label for label in keys if label in of and label not in failed]
        results = settled([*(of[label] for label in labels), *([robot] if robot is not None else [])])
        told = [_named(result, label) for result, label in zip(results, labels, strict=False)]
        if verdict is not None:
            told = [replace(one, verdict=verdict) if one.was_wrong else one for one in told]
        return Evaluated(path, tuple(told), results[-1] if robot is not None else None, None, failed)


def _answers(
    order: EvaluationOrder, paths: Sequence[Path], executor: Executor | None, cancelled: Callable[[], bool]
) -> Iterator[RecordingResults]:
    if executor is None:
        for path in paths:
            if cancelled():
                return
            yield from work(order, [path])
        return
    batch = max(1, min(BATCH, len(paths) // 16))
    starts = iter(range(0, len(paths), batch))
    waiting: dict[Future[list[RecordingResults]], Sequence[Path]] = {}
    suspects: list[Path] = []
    try:
        while not cancelled():
            while len(waiting) < AHEAD and (start := next(starts, None)) is not None:
                part = paths[start : start + batch]
                try:
                    waiting[executor.submit(work, order, part, known_of(part))] = part
                except (BrokenExecutor, RuntimeError) as error:  # RuntimeError: it was shut down
                    yield from _lost(part, error)
            if not waiting:
                break
            for future in wait(waiting, timeout=0.25, return_when=FIRST_COMPLETED).done:
                part = waiting.pop(future)
                try:
                    yield from future.result()
                except BrokenExecutor:
                    suspects += part
                except (Exception, CancelledError) as error:
                    yield from _lost(part, error)
        # A process died over one of these, and took the others' with it: each alone, so that only that one is lost.
        for path in suspects:
            if cancelled():
                return
            try:
                yield from executor.submit(work, order, [path]).result()
            except (Exception, CancelledError) as error:
                yield from _lost([path], error)
    finally:
        for future in waiting:
            future.cancel()


def _lost(paths: Sequence[Path], error: BaseException) -> Iterator[RecordingResults]:
    """Recordings whose process died, or that could not be handed over."""
    for path in paths:
        died = isinstance(error, BrokenExecutor)
        problem = RecordingError(_DIED, where=str(path), todo=_DIED_TODO) if died else FaultError.of(error, str(path))
        yield RecordingResults(path, problem=problem)


def _company(keys: Mapping[str, str]) -> str:
    """The strategies that were asked for together, under their labels."""
    return digest(f"{label} {key}" for label, key in keys.items())


def _named(result: Result, label: str) -> Result:
    return result if result.strategy == label else replace(result, strategy=label)


def _put(kept: OrderedDict[K, V], key: K, value: V) -> None:
    kept[key] = value
    kept.move_to_end(key)
    while len(kept) > MOST_KEPT:
        kept.popitem(last=False)
