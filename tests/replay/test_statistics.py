"""Intervals and tests, held against statsmodels, scipy and published examples."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest
from statsmodels.stats.contingency_tables import mcnemar as reference_mcnemar
from statsmodels.stats.proportion import proportion_confint

from telemetry.replay.readings import Taken
from telemetry.replay.scoring.results import Result, Run, summarise
from telemetry.replay.scoring.score import Outcome
from telemetry.replay.scoring.statistics import exact_interval, failures_at_most, in_words, mcnemar, wilson

counts = st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


def test_wilson_published_example():
    # NIST/SEMATECH e-Handbook 7.2.4.1 (example from memory; statsmodels gives the same, below)
    assert wilson(26, 200, 0.90) == pytest.approx((0.0958, 0.1741), abs=5e-5)


def test_exact_published_example():
    # NIST/SEMATECH e-Handbook 7.2.4.1 (example from memory; statsmodels gives the same, below)
    assert exact_interval(4, 20, 0.90) == pytest.approx((0.0714, 0.4010), abs=5e-5)


@pytest.mark.parametrize(
    ("right", "runs", "by_wilson", "exact"),
    [
        (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
        (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
        (0, 20, (0.0, 0.1611), (0.0, 0.1684)),
        (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
    ],
)
def test_newcombes_worked_intervals(right, runs, by_wilson, exact):
    # Newcombe, Statistics in Medicine 17, 1998, 857-872, table I (from memory; statsmodels gives the same, below)
    assert wilson(right, runs) == pytest.approx(by_wilson, abs=5e-5)
    assert exact_interval(right, runs) == pytest.approx(exact, abs=5e-5)


@given(counts, st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_wilson_equals_statsmodels(count, level):
    right, runs = count
    assert wilson(right, runs, level) == pytest.approx(proportion_confint(right, runs, 1 - level, "wilson"), abs=1e-12)


@given(counts, st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_exact_equals_statsmodels(count, level):
    right, runs = count
    assert exact_interval(right, runs, level) == pytest.approx(proportion_confint(right, runs, 1 - level, "beta"), abs=1e-9)


def test_no_run_says_nothing():
    assert wilson(0, 0) is None
    assert exact_interval(0, 0) is None
    assert failures_at_most(0) is None


@pytest.mark.parametrize(("right", "runs"), [(-1, 3), (4, 3)])
def test_impossible_counts_are_refused(right, runs):
    with pytest.raises(ValueError, match="is not a count"):
        wilson(right, runs)


def test_ends_are_exactly_none_and_all():
    assert wilson(0, 7)[0] == 0.0
    assert wilson(7, 7)[1] == 1.0


@pytest.mark.parametrize("runs", [30, 100, 1000])
def test_rule_of_three(runs):
    # Hanley and Lippman-Hand, JAMA 249, 1983: near 3/n, for n of 30 and more
    assert failures_at_most(runs) == pytest.approx(3 / runs, rel=0.06)
    # and exactly the one-sided Clopper-Pearson bound
    assert failures_at_most(runs) == pytest.approx(binomtest(0, runs, alternative="less").proportion_ci(0.95).high, abs=1e-9)


def test_mcnemar_published_example():
    # statsmodels' own documentation and check values: 101, 121 / 59, 33
    test = mcnemar(101, 121, 59, 33)
    assert test.corrected == pytest.approx(20.67, abs=5e-3)
    assert test.plain == pytest.approx(21.36, abs=6e-3)


@given(st.integers(0, 60), st.integers(0, 60), st.integers(0, 60), st.integers(0, 60))
def test_mcnemar_equals_statsmodels(both, first, second, neither):
    test = mcnemar(both, first, second, neither)
    table = [[both, first], [second, neither]]
    if first + second == 0:
        assert (test.p, test.plain) == (1.0, 0.0)
        return
    assert test.plain == pytest.approx(reference_mcnemar(table, exact=False, correction=False).statistic)
    corrected = reference_mcnemar(table, exact=False, correction=True)
    assert test.corrected == pytest.approx(corrected.statistic)
    expected = reference_mcnemar(table, exact=True).pvalue if first + second <= 25 else corrected.pvalue
    assert test.p == pytest.approx(min(1.0, expected), rel=1e-9)


def test_words_name_the_better_one_and_say_when_it_is_chance():
    sure = in_words(mcnemar(5, 0, 14, 1), "plain", "windows")
    assert sure.startswith("'windows' read 14 runs right that 'plain' did not, none the other way")
    assert "hardly chance (p < 0.001)" in sure
    unsure = in_words(mcnemar(5, 1, 3, 1), "plain", "windows")
    assert "1 the other way round" in unsure
    assert "may well be chance (p = 0.62)" in unsure
    assert "no difference" in in_words(mcnemar(5, 2, 2, 0), "a", "b")
    assert "exactly the same" in in_words(mcnemar(5, 0, 0, 3), "a", "b")


def test_exact_is_used_where_counts_are_small():
    test = mcnemar(0, 2, 8, 0)
    assert test.exact
    # two-sided sign test of 2 against 8: 2 * (1 + 10 + 45) / 1024, by hand
    assert test.p == pytest.approx(112 / 1024)
    assert not mcnemar(0, 13, 13, 0).exact
    assert math.isclose(mcnemar(0, 3, 3, 0).p, 1.0)


def test_the_middle_of_an_even_number_of_runs_lies_between_the_two() -> None:
    results = [
        Result(Run(f"{ms}.h5", "row", (), (), 1000, False), "hold", Taken(()), Outcome.RIGHT, None, ms) for ms in (300, 100)
    ]
    assert summarise("hold", results).decided_ms == 200
    assert summarise("hold", [*results, *results[:1]]).decided_ms == 300
