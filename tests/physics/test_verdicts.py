"""Verdicts on runs of physics that nothing was fitted on: few runs, so bounds are loose; bench_verdicts.py asks many."""

from __future__ import annotations

from collections import Counter

import pytest

from telemetry.replay.header import plan_for
from telemetry.replay.log import ONLY_LABELS, RunLog
from telemetry.replay.runner import Runner, Shared
from telemetry.replay.verdict.fit import fit_of
from telemetry.replay.verdict.seen import seen
from telemetry.replay.verdict_kind import CauseKind

from .cases import cases
from .causes import verdicts

KINDS = (("spectral", "hall"), ("spectral", "line"), ("regulated", "shop"), ("regulated", "patched"))
Tally = Counter[tuple[CauseKind | None, bool]]


def asked(stream: str, palette: str, *, swap: bool, kinds: tuple[tuple[str, str], ...] = KINDS) -> Tally:
    tally: Tally = Counter()
    for generator, level in kinds:
        runs = cases(generator, level, setups=range(40, 46), runs=1, stream=stream, palette=palette)
        tally += verdicts(runs, stream, palette, swap=swap)
    return tally


@pytest.fixture(scope="module")
def right() -> Tally:
    return asked("raw", "here", swap=False)


@pytest.fixture(scope="module")
def mistyped() -> Tally:
    return asked("raw", "here", swap=True)


def test_right_truths_are_hardly_ever_doubted(right: Tally) -> None:
    assert right[CauseKind.TRUTH, False] <= 0.05 * right.total()


def test_most_mistyped_truths_are_found(mistyped: Tally) -> None:
    assert mistyped[CauseKind.TRUTH, True] >= 0.7 * mistyped.total()


def test_where_any_strategy_reads_it_right_it_is_the_logic(right: Tally) -> None:
    assert right[CauseKind.LOGIC, True] + right[None, True] >= 0.8 * right.total()


def test_without_a_palette_nothing_but_that_is_said_of_raw_channels() -> None:
    for swap in (False, True):
        kinds = {kind for kind, _ in asked("raw", "none", swap=swap, kinds=KINDS[:2])}
        assert kinds <= {CauseKind.LOGIC, CauseKind.NO_PALETTE, None}


def stale(generator: str, level: str, palette: str) -> float:
    """Share of runs whose samples, at the places of the right colours, do not fit the palette."""
    told = []
    for case in cases(generator, level, setups=range(40, 52), runs=1, stream="raw", palette=palette):
        shared = Shared()
        runner = Runner(plan_for(ONLY_LABELS, case.course, case.palette, case.table), shared)
        runner.advance(case.table)
        log = RunLog(runner, case.table, shared)
        found = seen(case.table, case.course, log.walked, log.start, log.stop)
        fit = fit_of(found, case.palette, case.truth, case.table.ranges)
        assert fit is not None
        told.append(fit.stale)
    return sum(told) / len(told)


@pytest.mark.parametrize(("generator", "level"), [("spectral", "lab"), ("spectral", "hall"), ("regulated", "shop")])
def test_a_fresh_palette_fits(generator: str, level: str) -> None:
    assert stale(generator, level, "here") <= 0.1


@pytest.mark.parametrize(
    ("generator", "level", "palette"), [("regulated", "shop", "other light"), ("spectral", "far", "here")]
)
def test_a_palette_of_another_light_or_height_does_not(generator: str, level: str, palette: str) -> None:
    assert stale(generator, level, palette) >= 0.75
