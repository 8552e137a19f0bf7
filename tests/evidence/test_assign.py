"""The assignment under a group's rules in the portable core, against scipy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from telemetry.reading.portable.evidence.assignment import Assignment
from telemetry.reading.portable.evidence.certainty import Certainty
from telemetry.reading.portable.evidence.decide import Decide
from telemetry.reading.portable.evidence.doubt import Doubt
from telemetry.reading.portable.evidence.hypotheses import Hypotheses
from telemetry.reading.portable.evidence.misfit import Misfit


def best_by_scipy(fit: np.ndarray, group: list[int], pools: list[list[int] | None], bare: list[int]) -> float:
    """The best total for all slots; column 0 of ``fit``: nothing stands there, where ``bare`` allows it."""
    total = 0.0
    for number, pool in enumerate(pools):
        members = [i for i, g in enumerate(group) if g == number]
        if pool is None:
            total += sum(max(fit[i][1:].max(), fit[i][0] if bare[i] else -np.inf) for i in members)
            continue
        empty = np.full((len(members), len(members)), -1e9)
        np.fill_diagonal(empty, [fit[i][0] if bare[i] else -1e9 for i in members])
        worth = np.hstack([fit[np.ix_(members, pool)].astype(float), empty])
        total += float(worth[linear_sum_assignment(worth, maximize=True)].sum())
    return total


class Whole(Doubt):
    """Leaves a margin whole."""

    def left(self, i: int, k: int, margin: int, fit: int) -> int:
        return margin


def _decide(fit: list[list[int]], group: list[int], pools: list[list[int] | None], bare: list[int]) -> Decide:
    """A Decide that knows only codes, so that ``told`` is what each colour is worth."""
    slots, colours = len(fit), len(fit[0])
    pool = []
    for items in pools:
        pool += ((items or list(range(1, colours))) + [-1] * 31)[:31]
    told = [value for row in fit for value in row]
    kinds = [0 if items is None else 1 for items in pools]
    nothing, seen, unseen = [0] * (colours * 3), [1] * (slots * 4), [0] * slots
    assignment = Assignment(group, kinds, pool, bare, unseen, seen, colours)  # type: ignore[no-untyped-call]
    misfit = Misfit(seen, [0] * (slots * 72), [256] * (slots * 3), [0] * 3, [0] * slots, nothing, [0] * 3, 10, 10, 48)  # type: ignore[no-untyped-call]
    hypotheses = Hypotheses(
        assignment, misfit, told, [0] * 3, nothing, nothing, [0] * 3, [0] * slots, 0, [1000], [0], [0] * 4
    )  # type: ignore[no-untyped-call]
    certainty = Certainty([0, 160], [5000, 9999], slots)  # type: ignore[no-untyped-call]
    stage = Decide(hypotheses, assignment, Whole(hypotheses, misfit, [0], 64, [], 0), certainty, seen, unseen, [0], 1, 0)  # type: ignore[no-untyped-call]
    stage.decide()  # type: ignore[no-untyped-call]
    return stage


@given(st.integers(0, 2**32 - 1), st.booleans())
def test_the_portable_core_decides_as_scipy_does(seed: int, may_be_empty: bool) -> None:
    rng = np.random.default_rng(seed)
    fit = rng.integers(-300, 0, (6, 5))
    group, pools = [0, 0, 0, 1, 1, 2], [[1, 2, 3, 4], [1, 1, 2], None]
    bare = [1, 0, 0, 0, 1, 0] if may_be_empty else [0] * 6
    total = best_by_scipy(fit, group, pools, bare)
    stage = _decide(fit.tolist(), group, pools, bare)
    assert sum(int(fit[i, k]) for i, k in enumerate(stage.final)) == pytest.approx(total)


@given(st.integers(0, 2**32 - 1))
def test_margins_are_what_forbidding_the_answer_costs(seed: int) -> None:
    rng = np.random.default_rng(seed)
    fit = rng.integers(-300, 0, (4, 6))
    stage = _decide(fit.tolist(), [0] * 4, [[1, 2, 3, 4, 5]], [0] * 4)
    whole = linear_sum_assignment(fit[:, 1:], maximize=True)
    best = int(fit[:, 1:][whole].sum())
    for slot, colour in enumerate(stage.final):
        other = fit[:, 1:].astype(float).copy()
        other[slot, colour - 1] = -1e6
        i, j = linear_sum_assignment(other, maximize=True)
        assert stage.margin[slot] == best - int(other[i, j].sum())
