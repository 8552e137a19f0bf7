"""How each run of the list stands: right, wrong, ended early, not judged; and a small picture of what its sensor saw.

Worked out quietly on a thread for the runs that are looked at, with the strategy in use; forgotten when that changes.
"""

from __future__ import annotations

import contextlib
import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QObject, QTimer, Signal

from gui.model.jobs import Job, Jobs
from gui.model.opened_run import OpenedRun
from gui.model.verdicts import RunResults, verdict_on
from telemetry.errors import SidelongError
from telemetry.replay.evaluate import Evaluator
from telemetry.replay.scoring.results import ROBOT, Result
from telemetry.replay.scoring.score import Outcome

if TYPE_CHECKING:
    from gui.model.selection import Selection
    from telemetry.recording.library import Entry
    from telemetry.recording.load import Recording

KINDS = ("right", "wrong", "early", "open", "silent", "damaged")
"""open: the colours are not entered; silent: the strategy does not apply; early: it ended before the last marker."""
PICTURE_CELLS = 72
SETTLE_MS = 200
"""The list is told of new standings at most this often."""


@dataclass(frozen=True, slots=True)
class Standing:
    """``wrong``: slots that were misread or missed. ``seen``: colours along the run, a name a cell, 'none' between them.

    ``robot``: how the robot's own readings stand, as ``kind``; empty where it said none or the colours are not entered.
    """

    kind: str
    wrong: int = 0
    seen: tuple[str, ...] = ()
    robot: str = ""
    robot_wrong: int = 0


class Standings(QObject):
    """``of(entry)`` is at once what is known; ``want`` has the rest worked out, and ``changed`` tells of it."""

    changed = Signal()

    def __init__(self, selection: Selection, evaluator: Evaluator, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._selection, self._evaluator = selection, evaluator
        self._known: dict[str, Standing] = {}
        self._wanted: list[str] = []
        self._age = 0
        self._jobs = Jobs()
        self._settle = QTimer(self)
        self._settle.setSingleShot(True)
        self._settle.setInterval(SETTLE_MS)
        self._settle.timeout.connect(self.changed)
        selection.strategy_changed.connect(self._forget_all)
        selection.palette_changed.connect(self._forget_all)

    @property
    def strategy(self) -> str:
        """The strategy in use: whose results these are."""
        return self._selection.strategy

    def of(self, entry: Entry) -> Standing | None:
        """None: not worked out yet."""
        if entry.state != "whole":
            return Standing("damaged")
        known = self._known.get(entry.path)
        if known is None and not entry.truth:
            return Standing("open")
        return known

    def want(self, entries: Sequence[Entry]) -> None:
        """Work these out, the first ones first; what was wanted before and is not among them is left."""
        self._wanted = [entry.path for entry in entries if entry.state == "whole" and entry.path not in self._known]
        self._go_on()

    def forget(self, path: Path) -> None:
        """The labels of this run have changed."""
        self._known.pop(str(path), None)

    def note(self, path: Path, result: Result) -> None:
        """What another part of the window found out meanwhile."""
        if result.strategy == self._selection.strategy and str(path) in self._known:
            known = self._known[str(path)]
            if known.kind in ("right", "wrong", "silent") and (kind := kind_of(result)) is not None:
                self._known[str(path)] = replace(known, kind=kind, wrong=wrong_slots(result))

    def note_all(self, verdict: RunResults) -> None:
        """The same for all strategies on one run."""
        for result in verdict.results:
            self.note(verdict.path, result)

    def close(self) -> None:
        self._settle.stop()
        self._jobs.close()

    def _forget_all(self) -> None:
        self._age += 1
        self._wanted = [*self._known, *self._wanted]
        self._known.clear()
        self._settle.start()
        self._go_on()

    def _go_on(self) -> None:
        if self._jobs.busy or not self._wanted:
            return
        paths, age = self._wanted, self._age
        palette, strategy = self._selection.palette, self._selection.strategy

        def work(job: Job) -> object:
            from telemetry.recording.load import load

            for path in list(paths):
                if job.cancelled or age != self._age or paths is not self._wanted:
                    break
                with contextlib.suppress(SidelongError, OSError):
                    recording = load(Path(path))
                    job.give((path, age, standing_of(OpenedRun(recording, palette), strategy, self._evaluator)))
            return None

        job = Job(work, self)
        job.piece.connect(self._take)
        job.ended.connect(lambda: self._over(paths))
        self._jobs.start(job)

    def _take(self, found: object) -> None:
        assert isinstance(found, tuple)
        path, age, standing = found
        if age == self._age:
            self._known[path] = standing
            if not self._settle.isActive():
                self._settle.start()

    def _over(self, paths: list[str]) -> None:
        """What was wanted meanwhile comes next; what could not be worked out is not tried again.

        The next work may have begun already, on other ``paths``.
        """
        if self._wanted is paths:
            self._wanted = []
        QTimer.singleShot(0, self._go_on)


def standing_of(run: OpenedRun, strategy: str, evaluator: Evaluator) -> Standing:
    """One run with one strategy. Raises SidelongError."""
    recording = run.recording
    seen = picture(run)
    if recording.course is None or recording.truth is None:
        return Standing("open", seen=seen)
    verdict = verdict_on(evaluator, recording, run.palette, strategy, alone=True, reasons=False)
    result = verdict.results[0]
    kind = kind_of(result) or "silent"
    if kind in ("wrong", "silent") and _ended_early(run, recording, result, strategy):
        kind = "early"
    robot = verdict.by_strategy.get(ROBOT)
    if robot is None or (said := kind_of(robot)) is None:
        return Standing(kind, wrong_slots(result), seen)
    return Standing(kind, wrong_slots(result), seen, said, wrong_slots(robot))


def kind_of(result: Result) -> str | None:
    if result.outcome is None:
        return None
    return {Outcome.RIGHT: "right", Outcome.WRONG: "wrong"}.get(result.outcome, "silent")


def wrong_slots(result: Result) -> int:
    return sum(slot != "right" for slot in result.score.slots) if result.score is not None else 0


def _ended_early(run: OpenedRun, recording: Recording, result: Result, strategy: str) -> bool:
    """The last marker that is passed was missed, and the sensor never came to it."""
    assert recording.course is not None
    passed = [number for number, slot in enumerate(recording.course.slots) if not slot.unseen and slot.at_cm is not None]
    if not passed or result.taken.slots[passed[-1]].colour is not None:
        return False
    log = run.log(strategy)
    return log is not None and not log.reached(recording.course.slots[passed[-1]])


def picture(run: OpenedRun) -> tuple[str, ...]:
    """What the first sensor saw along the run: in each cell the colour seen most often, 'none' where it saw none."""
    found, names = run.seen_codes()
    if found is None or not len(found):
        return ()
    codes = np.nan_to_num(np.asarray(found, dtype=float), nan=0.0).astype(int)
    edges = np.linspace(0, len(codes), PICTURE_CELLS + 1).astype(int)
    cells = []
    for first, last in itertools.pairwise(edges):
        part = codes[first : max(last, first + 1)]
        coloured = part[(part > 0) & (part < len(names))]
        most = int(np.bincount(coloured).argmax()) if len(coloured) else 0
        cells.append(names[most] if most else "none")
    return tuple(cells)
