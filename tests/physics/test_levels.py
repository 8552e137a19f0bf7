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
IN_ORDER = ("hold", "smooth", "checklist")


def pooled(generator: str, stream: str, simple: tuple[str, ...] = SIMPLE) -> Cell:
    """All levels of a generator, a palette made there, set-ups that nothing was fitted on."""
    cell = Cell()
    for level in GENERATORS[generator].levels:
        runs = cases(generator, level, setups=range(1070, 1074), runs=2, stream=stream)
        cell += read(runs, names=(*simple, "evidence"))
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


@pytest.mark.parametrize("stream", ["raw", "codes"])
def test_places_that_touch_and_may_be_empty_do_not_share_a_marker(stream: str) -> None:
    cell = read(cases("in turn", "gaps", setups=range(1070, 1082), runs=2, stream=stream), names=(*SIMPLE, "evidence"))
    assert cell.right["evidence"] >= 1.2 * max(cell.right[name] for name in SIMPLE)


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


@pytest.mark.parametrize("stream", ["raw, in order", "codes, in order"])
@pytest.mark.parametrize("generator", [name for name in GENERATORS if name != "spliced"])
def test_without_distances_it_reads_far_more_runs_than_those_that_count(generator: str, stream: str) -> None:
    """Real readings are left out: by raw channels 'hold' reads more of them than evidence does (109 and 102 of 120)."""
    cell = pooled(generator, stream, IN_ORDER)
    best = max(cell.right[name] for name in IN_ORDER)
    assert cell.right["evidence"] >= 1.25 * best - 1
    assert cell.sure == 0


def test_without_distances_codes_of_real_readings_are_read_as_well_as_by_counting() -> None:
    if not there("spliced"):
        pytest.skip(ABSENT)
    cell = pooled("spliced", "codes, in order", IN_ORDER)
    best = max(cell.right[name] for name in IN_ORDER)
    assert cell.right["evidence"] >= best - by_chance(cell.runs, 0.03)
