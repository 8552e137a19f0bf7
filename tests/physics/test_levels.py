"""Evidence beside the best simple strategies on every kind of physics: ratios, so that a change that spoils a kind fails.

Few runs, so bounds leave room for chance; ``bench_physics.py`` asks many, level by level.
"""

from __future__ import annotations

import pytest
from scipy.stats import binom

from .cases import GENERATORS, cases, there
from .reading import Cell, read
from .spliced import ABSENT

SIMPLE = ("windows", "map-and-list", "always-answer")


def pooled(generator: str, stream: str) -> Cell:
    """All levels of a generator, a palette made there, set-ups that nothing was fitted on."""
    cell = Cell()
    for level in GENERATORS[generator].levels:
        runs = cases(generator, level, setups=range(1070, 1074), runs=2, stream=stream)
        cell += read(runs, names=(*SIMPLE, "evidence"))
    return cell


def by_chance(cases: int, share: float) -> float:
    """How many of ``cases`` are reached in 95 of 100 draws where the true share is ``share`` (binomial)."""
    return float(binom.ppf(0.95, cases, share))


@pytest.mark.parametrize("generator", GENERATORS)
def test_from_raw_channels_no_simple_strategy_reads_more_runs(generator: str) -> None:
    if not there(generator):
        pytest.skip(ABSENT)
    cell = pooled(generator, "raw")
    assert cell.right["evidence"] >= max(cell.right[name] for name in SIMPLE) - by_chance(cell.runs, 0.01)
    assert cell.sure_wrong <= by_chance(cell.sure, 0.01)
    right = cell.right["evidence"]
    assert right - cell.sure <= by_chance(right, 0.6 if generator == "spliced" else 0.4)


def test_on_the_spectral_robot_it_misreads_a_third_as_often_at_the_most() -> None:
    cell = pooled("spectral", "raw")
    best = max(cell.right[name] for name in SIMPLE)
    assert cell.runs - cell.right["evidence"] <= by_chance(cell.runs - best, 1.0 / 3.0)


@pytest.mark.parametrize("generator", GENERATORS)
def test_from_codes_alone_no_simple_strategy_reads_more_runs_and_none_is_said_99_per_cent_sure(generator: str) -> None:
    if not there(generator):
        pytest.skip(ABSENT)
    cell = pooled(generator, "codes")
    assert cell.right["evidence"] >= max(cell.right[name] for name in SIMPLE) - by_chance(cell.runs, 0.01)
    assert cell.sure == 0
