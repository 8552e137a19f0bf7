"""Cases through the product's own comparison: what each strategy reads, how sure evidence is, and the verdicts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from telemetry.course import Course, GroupRule, Truth
from telemetry.reading.strategies import STRATEGIES
from telemetry.replay.case import Ask
from telemetry.replay.case import Case as Judged
from telemetry.replay.header import PlanShelf
from telemetry.replay.judge import judge
from telemetry.replay.scoring.score import Outcome

from .cases import Case

SURE = 0.99
BY_EVIDENCE = ("evidence", "enough")
READERS = tuple(name for name, one in STRATEGIES.items() if not any("stop" in use.stage for use in one.uses))
SIMPLE = tuple(name for name in READERS if name not in BY_EVIDENCE)


@dataclass
class Cell:
    """One generator, level, stream and kind of palette. ``right``: strategy -> runs read right; ``judged``: how many it was
    judged on. ``sure``: runs all of whose readings were said 99 % sure by evidence; ``sure_wrong``: those of them misread.
    ``verdicts``: (kind, what was true) -> runs, of runs that evidence misread.
    """

    runs: int = 0
    right: Counter[str] = field(default_factory=Counter)
    judged: Counter[str] = field(default_factory=Counter)
    sure: int = 0
    sure_wrong: int = 0
    verdicts: Counter[tuple[str, str]] = field(default_factory=Counter)

    def __iadd__(self, other: Cell) -> Cell:
        self.runs += other.runs
        self.right += other.right
        self.judged += other.judged
        self.sure += other.sure
        self.sure_wrong += other.sure_wrong
        self.verdicts += other.verdicts
        return self

    @property
    def best_simple(self) -> str:
        """The simple strategy that reads most runs right, of those judged on all runs; empty where there is none."""
        names = [name for name in SIMPLE if self.judged[name] == self.runs and self.runs]
        return max(names, key=lambda name: self.right[name], default="")


def read(cases: Iterable[Case], *, names: tuple[str, ...] = READERS, verdicts: bool = False) -> Cell:
    """All cases through the strategies ``names``. ``verdicts`` are asked for too, which takes much longer."""
    cell, shelf = Cell(), PlanShelf()
    for case in cases:
        strategies = {name: STRATEGIES[name] for name in names}
        one = Judged(f"{case.setup}-{case.seed}", case.table, case.course, case.truth, case.palette, simulated=True)
        results, _ = judge(one, strategies, Ask(verdict=verdicts), shelf=shelf)
        cell.runs += 1
        for result in results:
            good = result.outcome is Outcome.RIGHT
            cell.judged[result.strategy] += result.outcome in {Outcome.RIGHT, Outcome.WRONG}
            cell.right[result.strategy] += good
            if result.strategy != "evidence" or result.outcome is None:
                continue
            told = [one.confidence or 0.0 for one in result.taken.slots]
            if min(told) >= SURE:
                cell.sure += 1
                cell.sure_wrong += not good
            if result.verdict is not None:
                cell.verdicts[result.verdict.kind.value, "truth right"] += 1
    return cell


def mistaken(truth: Truth, course: Course, rng: np.random.Generator) -> Truth:
    """The truth as people mistype it: two slots of one group changed about, else one slot another of its colours."""
    pairs = [
        (i, j)
        for i, one in enumerate(course.slots)
        for j, other in enumerate(course.slots)
        if i < j and one.group == other.group and truth[i] != truth[j] and not one.unseen and not other.unseen
    ]
    out = list(truth)
    free = [i for i, slot in enumerate(course.slots) if course.groups[slot.group].rule is GroupRule.ANY]
    if free and (not pairs or rng.integers(2)):
        i = free[int(rng.integers(len(free)))]
        others = [one for one in course.groups[course.slots[i].group].colours if one != truth[i]]
        out[i] = str(rng.choice(others))
    elif pairs:
        i, j = pairs[int(rng.integers(len(pairs)))]
        out[i], out[j] = out[j], out[i]
    return tuple(out)
