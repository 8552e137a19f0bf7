"""Two directions at once: how far the first goes at some values of the second, and where that is uneven."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from telemetry.sample import IntColumn
from telemetry.tuning.crossing import RIGHT_SHARE, crossing
from telemetry.tuning.directions import Direction
from telemetry.tuning.robot_model import RobotModel
from telemetry.tuning.tries import Progress

HOPELESS = 0.5
"""Where less is right, what lies beyond is not tried."""
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class DirectionPair:
    """``shares[i][k]``: how many runs are right at ``first_values[i]`` and ``second_values[k]``, as a share of those right
    as recorded; None: not tried, for less than half were right before. ``right_up_to``: for each value of the second the
    first's margin; None: no failure seen. ``first_failure``: (recording, slot) at the easiest values that fail.

    ``uneven``: ((first, second), (first, second)): fails at the first two values, or just beyond, although it is right at
    the second two, of which none is easier; None where it never does.
    """

    first: str
    second: str
    first_values: tuple[float, ...]
    second_values: tuple[float, ...]
    shares: tuple[tuple[float | None, ...], ...]
    right_up_to: tuple[float | None, ...]
    first_failure: tuple[str, str] | None = None
    uneven: tuple[tuple[float, float], tuple[float, float]] | None = None


class Judging(Protocol):
    """What is asked of who alters and judges the runs."""

    right: NDArray[np.bool_]
    tell: Progress

    def right_at(self, steps: Sequence[tuple[Direction, float]]) -> tuple[Floats, IntColumn]:
        """(runs,) shares of copies right with all steps at once, and masks of slots that failed."""

    def failed_first(self, failed: IntColumn) -> tuple[str, str] | None:
        """(recording, slot)."""


@dataclass(frozen=True, slots=True)
class TriedPair:
    """``shares`` (down, across): NaN where it was not tried."""

    first: Direction
    second: Direction
    down: Sequence[float]
    across: Sequence[float]
    shares: Floats
    first_failure: tuple[str, str] | None

    def said(self, model: RobotModel, alone: float | None) -> DirectionPair:
        """As a coach reads it. ``alone``: the first's margin without the second."""
        margins: list[float | None] = [alone]
        for column in self.shares.T[1:]:
            there = np.isfinite(column)
            found = crossing(np.array(self.down)[there], column[there], 1.0)
            margins.append(None if found is None else self.first.shown(model, found))

        def shown(place: tuple[int, int]) -> tuple[float, float]:
            return self.first.shown(model, self.down[place[0]]), self.second.shown(model, self.across[place[1]])

        places = uneven_places(self.shares)
        uneven = None if places is None else (shown(places[0]), shown(places[1]))
        uneven = uneven or uneven_margins(margins, self.second_shown(model))
        return DirectionPair(
            self.first.name, self.second.name, tuple(self.first.shown(model, value) for value in self.down),
            self.second_shown(model),
            tuple(tuple(None if np.isnan(one) else one for one in row) for row in self.shares.tolist()), tuple(margins),
            self.first_failure, uneven,
        )  # fmt: skip


    def second_shown(self, model: RobotModel) -> tuple[float, ...]:
        """The second's values as a coach reads them."""
        return tuple(self.second.shown(model, value) for value in self.across)


def tried_pair(
    judging: Judging, first: tuple[Direction, Sequence[float]], second: tuple[Direction, Sequence[float]]
) -> TriedPair:
    """Every value of the first with every value of the second, both rising, until most fails."""
    (one, down), (other, across) = first, second
    shares = np.full((len(down), len(across)), np.nan)
    failures: dict[tuple[int, int], IntColumn] = {}
    what, total = f"{one.name} and {other.name}", len(down) * len(across)
    for k, beside in enumerate(across):
        for i, value in enumerate(down):
            right, failed = judging.right_at([(one, value), (other, beside)])
            shares[i, k] = min(1.0, right.mean() / judging.right.mean())
            judging.tell(what, k * len(down) + i + 1, total)
            if shares[i, k] < RIGHT_SHARE:
                failures[i, k] = failed
            if shares[i, k] < HOPELESS:
                break
    judging.tell(what, total, total)
    easiest = min(failures, key=lambda place: (sum(place), place), default=None)
    return TriedPair(one, other, down, across, shares, None if easiest is None else judging.failed_first(failures[easiest]))


def uneven_places(shares: Floats) -> tuple[tuple[int, int], tuple[int, int]] | None:
    """(where it fails, where it is right though nothing is easier there), the clearest of all; None where there is none."""
    found = []
    for i, k in np.argwhere(shares < RIGHT_SHARE).tolist():
        beyond = np.nan_to_num(shares[i:, k:])
        if beyond.max() >= RIGHT_SHARE:
            m, n = np.unravel_index(int(np.argmax(beyond)), beyond.shape)
            found.append((float(beyond.max() - shares[i, k]), (i, k), (i + int(m), k + int(n))))
    return max(found)[1:] if found else None


def uneven_margins(
    margins: Sequence[float | None], seconds: Sequence[float]
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """(margin at a value of the second, a greater one at a harder value), the first such; None where there is none."""
    for k, margin in enumerate(margins):
        for n in range(k + 1, len(margins)):
            other = margins[n]
            if margin is not None and other is not None and other > margin * 1.02:
                return (margin, seconds[k]), (other, seconds[n])
    return None
