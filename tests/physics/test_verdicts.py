"""Verdicts on runs of physics that nothing was fitted on: few runs, so bounds are loose; bench_verdicts.py asks many."""

from __future__ import annotations

from collections import Counter

import pytest

from telemetry.replay.verdict_kind import Kind

from .cases import cases
from .causes import verdicts

KINDS = (("spectral", "hall"), ("spectral", "line"), ("regulated", "shop"), ("regulated", "patched"))
Tally = Counter[tuple[Kind | None, bool]]


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
    assert right[Kind.TRUTH, False] <= 0.05 * right.total()


def test_most_mistyped_truths_are_found(mistyped: Tally) -> None:
    assert mistyped[Kind.TRUTH, True] >= 0.7 * mistyped.total()


def test_where_any_strategy_reads_it_right_it_is_the_logic(right: Tally) -> None:
    assert right[Kind.LOGIC, True] + right[None, True] >= 0.8 * right.total()


def test_without_a_palette_nothing_but_that_is_said_of_raw_channels() -> None:
    for swap in (False, True):
        kinds = {kind for kind, _ in asked("raw", "none", swap=swap, kinds=KINDS[:2])}
        assert kinds <= {Kind.LOGIC, Kind.NO_PALETTE, None}


def test_a_palette_that_is_called_stale_is() -> None:
    kinds = (("spectral", "far"), ("spectral", "daylight"), ("regulated", "far"), ("spectral", "hall"))
    stale: Tally = Counter()
    for palette in ("here", "other light"):
        stale += asked("raw", palette, swap=False, kinds=kinds)
    assert stale[Kind.STALE, True] >= max(4.0 * stale[Kind.STALE, False], 3.0)
