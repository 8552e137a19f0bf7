"""Evidence beside the best simple strategies on every kind of physics: ratios, so that a change that spoils a kind fails.

Few runs, so the bounds are loose; ``bench_physics.py`` asks many, level by level.
"""

from __future__ import annotations

import pytest

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


@pytest.mark.parametrize("generator", GENERATORS)
def test_from_raw_channels_no_simple_strategy_reads_more_runs(generator: str) -> None:
    if not there(generator):
        pytest.skip(ABSENT)
    cell = pooled(generator, "raw")
    best = max(cell.right[name] for name in SIMPLE)
    slack = 0.08 if generator == "spliced" else 0.04  # one run of 32
    assert cell.right["evidence"] >= best - slack * cell.runs
    assert cell.sure_wrong <= max(2, 0.06 * cell.sure)
    assert cell.sure >= 0.25 * cell.right["evidence"]


def test_on_the_spectral_robot_it_misreads_half_as_often_at_the_most() -> None:
    cell = pooled("spectral", "raw")
    best = max(cell.right[name] for name in SIMPLE)
    assert cell.runs - cell.right["evidence"] <= 0.5 * (cell.runs - best)


@pytest.mark.parametrize("generator", ["spectral", "regulated"])
def test_from_codes_alone_no_simple_strategy_reads_more_runs(generator: str) -> None:
    cell = pooled(generator, "codes")
    assert cell.right["evidence"] >= max(cell.right[name] for name in SIMPLE) - 0.03 * cell.runs
    assert cell.sure_wrong <= max(3, 0.1 * cell.sure)
