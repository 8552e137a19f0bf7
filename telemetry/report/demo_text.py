"""What the demonstration found, as a coach reads it: one line a strategy, one column a level of difficulty."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from telemetry.replay.compare import Comparison
from telemetry.replay.scoring.results import StrategySummary, ranked
from telemetry.replay.scoring.score import Outcome
from telemetry.report.table import TableColumn, table, wrap


def demo_lines(comparison: Comparison, level_of: Mapping[str, str]) -> list[str]:
    """The table and what it says. ``level_of``: recording -> level, in the order of the columns."""
    levels = list(dict.fromkeys(level_of.values()))
    results = [*comparison.results, *comparison.robot]
    right = Counter((one.strategy, level_of[one.run.recording]) for one in results if one.outcome is Outcome.RIGHT)
    counted = Counter((one.strategy, level_of[one.run.recording]) for one in results if one.counts)
    told = [one for one in ranked(comparison.summaries) if one.runs]
    own = [comparison.own] if comparison.own is not None else []
    rows = [
        [one.strategy, *(f"{right[one.strategy, level]} of {counted[one.strategy, level]}" for level in levels), *_all(one)]
        for one in (*told, *own)
    ]
    columns = [TableColumn("runs read right", fixed=True), *(TableColumn(level, True) for level in levels),
               TableColumn("all", True), TableColumn("of 100 such runs (95 % sure)", True)]  # fmt: skip
    lines = table(columns, rows, indent="  ")
    lines += ["", *_said(told, levels, right, counted)]
    silent = [one for one in comparison.summaries if not one.runs]
    if silent:
        names = " and ".join(f"'{one.strategy}'" for one in silent)
        lines += wrap(f"{names} cannot be judged on these runs: they need a robot that stops at the markers.", indent="  ")
    return lines


def _all(one: StrategySummary) -> tuple[str, str]:
    if one.wilson95 is None:
        return f"{one.correct} of {one.runs}", ""
    low, high = one.wilson95
    return f"{one.correct} of {one.runs}", f"{low * 100:.0f} to {high * 100:.0f}"


def _said(
    told: Sequence[StrategySummary],
    levels: Sequence[str],
    right: Mapping[tuple[str, str], int],
    counted: Mapping[tuple[str, str], int],
) -> list[str]:
    """The three sentences that the table is there for."""
    if not told or not levels:
        return []
    easy, best = levels[0], told[0]
    perfect = [one for one in told if 0 < counted[one.strategy, easy] == right[one.strategy, easy]]
    fallen = [one for one in perfect if one.correct < one.runs]
    lines = []
    if perfect:
        many = f"{len(perfect)} of {len(told)} strategies read"
        lines += wrap(f"At '{easy}' {many} every run right: there one cannot tell good from lucky.", indent="  ")
    if fallen:
        lines += wrap(f"{len(fallen)} of these fail somewhere on the harder levels, on the very same markers.", indent="  ")
    equal = [f"'{one.strategy}'" for one in told if (one.correct, one.runs) == (best.correct, best.runs)]
    is_best = "is" if len(equal) == 1 else "are"
    lines += wrap(f"The best here {is_best} {' and '.join(equal)} with {best.correct} of {best.runs} runs.", indent="  ")
    return lines
