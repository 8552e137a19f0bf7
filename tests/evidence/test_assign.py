"""The assignment under a group's rules, on the PC and in the portable core, against scipy and brute force."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from telemetry.reading.portable.evidence.assignment import Assignment
from telemetry.reading.portable.evidence.certainty import Certainty
from telemetry.reading.portable.evidence.decide import Decide
from telemetry.reading.portable.evidence.hypotheses import Hypotheses
from telemetry.replay.limit.assign import best_assignment, best_colours


@given(st.integers(1, 7), st.integers(0, 4), st.integers(0, 2**32 - 1))
def test_the_best_assignment_is_scipys(rows: int, more: int, seed: int) -> None:
    worth = np.random.default_rng(seed).normal(0.0, 10.0, (rows, rows + more))
    total, chosen = best_assignment(worth)
    i, j = linear_sum_assignment(worth, maximize=True)
    assert total == pytest.approx(float(worth[i, j].sum()))
    assert len(set(chosen)) == rows


@given(st.integers(1, 5), st.integers(0, 2**32 - 1))
def test_it_is_what_trying_everything_finds(rows: int, seed: int) -> None:
    worth = np.random.default_rng(seed).integers(-20, 20, (rows, rows + 1)).astype(float)
    best = max(sum(worth[i, j] for i, j in enumerate(order)) for order in permutations(range(rows + 1), rows))
    assert best_assignment(worth)[0] == pytest.approx(best)


def _decide(fit: list[list[int]], group: list[int], pools: list[list[int] | None], bare: list[int]) -> Decide:
    """A Decide that knows only codes, so that ``told`` is what each colour is worth."""
    slots, colours = len(fit), len(fit[0])
    pool = []
    for items in pools:
        pool += ((items or list(range(1, colours))) + [-1] * 31)[:31]
    told = [value for row in fit for value in row]
    kinds = [0 if items is None else 1 for items in pools]
    nothing, seen, unseen = [0] * (colours * 4), [1] * (slots * 8), [0] * slots
    assignment = Assignment(group, kinds, pool, bare, unseen, seen, colours)  # type: ignore[no-untyped-call]
    hypotheses = Hypotheses(
        assignment, seen, told, [0] * 4, nothing, nothing, [0] * 4, [0] * slots, 0, 4, 12, [0], [0], [100], [0], [0] * 4
    )  # type: ignore[no-untyped-call]
    certainty = Certainty([0, 160], [5000, 9999], slots)  # type: ignore[no-untyped-call]
    stage = Decide(hypotheses, assignment, certainty, seen, unseen, [0], 1, 0)  # type: ignore[no-untyped-call]
    stage.decide()  # type: ignore[no-untyped-call]
    return stage


@given(st.integers(0, 2**32 - 1), st.booleans())
def test_the_portable_core_decides_as_the_pc_does(seed: int, may_be_empty: bool) -> None:
    rng = np.random.default_rng(seed)
    fit = rng.integers(-300, 0, (6, 5))
    group, pools = [0, 0, 0, 1, 1, 2], [[1, 2, 3, 4], [1, 1, 2], None]
    bare = [1, 0, 0, 0, 1, 0] if may_be_empty else [0] * 6
    barred = np.full(fit.shape, -1e9)
    for i, number in enumerate(group):
        barred[i, pools[number] or [1, 2, 3, 4]] = 0.0
        if bare[i]:
            barred[i, 0] = 0.0
    total, colours = best_colours(fit + barred, group, pools, [bool(value) for value in bare])
    stage = _decide(fit.tolist(), group, pools, bare)
    assert sum(int(fit[i, k]) for i, k in enumerate(stage.final)) == pytest.approx(total)
    assert len(colours) == len(stage.final)


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
