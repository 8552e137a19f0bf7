"""Whether other settings gain anything over today's, beyond chance: in runs right, in margin, in the time of reading.

Judged on the same runs. Runs right: those judged by settings chosen without them, so that the best of many is not flattered;
a gain is a paired difference of more than one standard error (the rule by which region.py widens a region). Margin and time
were chosen by, so two standard errors are asked of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Bools = NDArray[np.bool_]
RUNS_ERRORS, CHOSEN_ERRORS = 1.0, 2.0
EARLIER_MS = 50
"""Less is no time (assumed, no source): a robot at 40 cm/s drives 2 cm meanwhile."""


@dataclass(frozen=True, slots=True)
class Gains:
    """What is gained over today's settings; none of it: they are kept. ``room``: steps of the grid to what fails, asked
    only where there are no altered copies to tell the margin.
    """

    runs: bool = False
    margin: bool = False
    room: bool = False
    earlier: bool = False

    @property
    def any(self) -> bool:
        """Whether anything is."""
        return self.runs or self.margin or self.room or self.earlier


def more_right(today: Bools, then: Bools) -> bool:
    """Whether more runs are right: (runs,) each. Where none was right today, one is enough."""
    won, lost = int((then & ~today).sum()), int((today & ~then).sum())
    return won - lost > RUNS_ERRORS * math.sqrt(won + lost) or (not today.any() and won > 0)


def more_margin(today: Bools, then: Bools, of: NDArray[np.int64]) -> bool:
    """Whether more altered copies are right; copies of one run (``of``: its number) hang together, so runs are counted."""
    gap = then.astype(np.float64) - today
    each = np.array([gap[of == run].mean() for run in np.unique(of)])
    if len(each) < 2:
        return bool(gap.sum() > CHOSEN_ERRORS * np.sqrt(np.abs(gap).sum()))
    return bool(each.mean() > CHOSEN_ERRORS * each.std(ddof=1) / np.sqrt(len(each)) and each.mean() > 0)


def earlier_read(today_ms: NDArray[np.float64], then_ms: NDArray[np.float64]) -> bool:
    """Whether runs are decided earlier: NaN where one is not right; a sign test."""
    gap = today_ms - then_ms
    sooner, later = int((gap >= EARLIER_MS).sum()), int((gap <= -EARLIER_MS).sum())
    return sooner - later > CHOSEN_ERRORS * math.sqrt(sooner + later)
