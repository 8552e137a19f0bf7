"""The piece of work that is handed to an executor: some recordings through some strategies, in whatever process."""

from __future__ import annotations

import logging
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from telemetry.errors import FaultError, SidelongError, StrategyError
from telemetry.reading.own import own_strategy
from telemetry.reading.strategy import Strategy, Use, Value
from telemetry.reading.switch import WHEN_IT_PAYS
from telemetry.recording.disk.stamp import Stamp as FileStamp
from telemetry.recording.hdf5.expendable import remember
from telemetry.recording.load import Recording, load
from telemetry.replay.case import Ask, Given
from telemetry.replay.evaluate.keys import Stamp, stamp_of
from telemetry.replay.header import PlanShelf
from telemetry.replay.judge import Reads, read_case, verdict_on
from telemetry.replay.verdict_kind import Verdict

MOST_ROWS = 500_000
"""So many samples stay loaded in a process (about 50 MB): a changed setting then reads no file."""
USUAL_ROWS = 500
"""Samples of a short recording, for what is to be expected."""
LOG = logging.getLogger(__name__)
LOG.addHandler(logging.NullHandler())


@dataclass(frozen=True, slots=True)
class SentStrategy:
    """A strategy on its way to another process: a team's own class cannot be sent, its file is read there.

    ``uses``: the stages, each with its settings.
    """

    words: tuple[str, str, str]
    uses: tuple[tuple[str, dict[str, Value]], ...]
    own_file: str
    own_digest: str

    @classmethod
    def of(cls, strategy: Strategy) -> SentStrategy:
        uses = tuple((use.stage, dict(use.settings)) for use in strategy.uses)
        return cls((strategy.name, strategy.title, strategy.what), uses, strategy.own_file, strategy.own_digest)

    def strategy(self) -> Strategy:
        """Made again. Raises StrategyError where the team's file is another one by now."""
        where = self.own_file or "strategy"
        uses = tuple(Use(stage, settings) for stage, settings in self.uses)
        if not self.own_file:
            return Strategy(*self.words, uses)
        own = own_strategy(Path(self.own_file))
        if own.own_digest != self.own_digest:
            raise StrategyError("it was changed while its runs were replayed", where=where, todo="Replay them again.")
        return replace(own, uses=uses)


@dataclass(frozen=True)
class EvaluationOrder:
    """What is to be done with each recording. ``key`` names it, so that a process makes it ready once."""

    key: str
    strategies: Mapping[str, Strategy]
    given: Given
    ask: Ask
    replays: int = 1
    """So many each of those who work at it may expect."""

    def __reduce__(self) -> tuple[object, ...]:
        sent = {label: SentStrategy.of(strategy) for label, strategy in self.strategies.items()}
        return _arrived, (self.key, sent, self.given, self.ask, self.replays)


@dataclass(frozen=True)
class ArrivedOrder:
    """An order in another process; its strategies are made when they are needed, so that a failure is theirs alone."""

    key: str
    sent: Mapping[str, SentStrategy]
    given: Given
    ask: Ask
    replays: int
    made: dict[str, Strategy] = field(default_factory=dict)

    def strategy(self, label: str) -> Strategy:
        if label not in self.made:
            self.made[label] = self.sent[label].strategy()
        return self.made[label]


@dataclass(frozen=True, slots=True)
class RecordingResults:
    """What became of one recording. ``problem``: why nothing did."""

    path: Path
    reads: Reads | None = None
    verdict: Verdict | None = None
    problem: SidelongError | None = None


_orders: OrderedDict[str, ArrivedOrder] = OrderedDict()


def _arrived(key: str, sent: Mapping[str, SentStrategy], given: Given, ask: Ask, replays: int) -> ArrivedOrder:
    """One object for equal orders, so that what was made ready for it is found again."""
    if key not in _orders:
        while len(_orders) >= 8:
            _orders.popitem(last=False)
        _orders[key] = ArrivedOrder(key, sent, given, ask, replays)
    return _orders[key]


def work(
    order: EvaluationOrder | ArrivedOrder, paths: Sequence[Path], known: Sequence[FileStamp] = ()
) -> list[RecordingResults]:
    """Each recording's answer. Nothing that happens to one keeps the others from theirs.

    ``known``: stamps of files that need not be tried first (recording/hdf5/expendable.py).
    """
    remember(known)
    if isinstance(order, ArrivedOrder):  # in a process that does nothing else
        WHEN_IT_PAYS.expect(order.replays * USUAL_ROWS)
    return [_answer(order, path) for path in paths]


def _answer(order: EvaluationOrder | ArrivedOrder, path: Path) -> RecordingResults:
    return answer_of(order, path, lambda: _recordings.load(path))


def answer_of(
    order: EvaluationOrder | ArrivedOrder, path: Path, loaded: Callable[[], Recording]
) -> RecordingResults:
    """One recording's answer; ``loaded`` gives the recording."""
    try:
        case = order.given.case(loaded(), path.as_posix())
        strategies, failed = _made(order)
        reads = read_case(case, strategies, why=order.ask.why, shelf=_shelf())
        reads.failed.update(failed)
        found = verdict_on(case, reads, _shelf()) if order.ask.verdict else None
    except SidelongError as error:
        return RecordingResults(path, problem=error.alone())
    except Exception as error:
        LOG.exception("%s could not be judged", path)
        return RecordingResults(path, problem=FaultError.of(error, str(path)))
    return RecordingResults(path, reads, found)


def _made(order: EvaluationOrder | ArrivedOrder) -> tuple[Mapping[str, Strategy], dict[str, SidelongError]]:
    if isinstance(order, EvaluationOrder):
        return order.strategies, {}
    made: dict[str, Strategy] = {}
    failed: dict[str, SidelongError] = {}
    for label in order.sent:
        try:
            made[label] = order.strategy(label)
        except SidelongError as error:
            failed[label] = error.alone()
    return made, failed


class Recordings:
    """Recordings that stay loaded, up to MOST_ROWS samples in all; safe for threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._loaded: OrderedDict[Stamp, Recording] = OrderedDict()
        self._rows = 0

    def load(self, path: Path) -> Recording:
        """As ``recording.load``; a recording that was written to meanwhile is read anew."""
        stamp = stamp_of(path)
        with self._lock:
            if stamp in self._loaded:
                self._loaded.move_to_end(stamp)
                return self._loaded[stamp]
        recording = load(path)
        rows = recording.table.rows
        with self._lock:
            if rows <= MOST_ROWS // 4 and stamp not in self._loaded:
                self._loaded[stamp] = recording
                self._rows += rows
            while self._rows > MOST_ROWS:
                self._rows -= self._loaded.popitem(last=False)[1].table.rows
        return recording


_recordings = Recordings()


def loaded(path: Path) -> Recording:
    """A recording that this process may have loaded to judge it: then that one. Raises as ``recording.load``."""
    return _recordings.load(path)


_mine = threading.local()


def _shelf() -> PlanShelf:
    """Plans are stepped, so each thread has its own."""
    if not hasattr(_mine, "shelf"):
        _mine.shelf = PlanShelf()
    shelf: PlanShelf = _mine.shelf
    return shelf
