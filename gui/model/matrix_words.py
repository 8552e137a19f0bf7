"""What the matrix of Decide says below itself: which strategy is best so far, how surely, and what changed settings do."""

from __future__ import annotations

from collections.abc import Sequence

from gui.model.matrix import VARIANT, Matrix
from gui.model.recommendation import standing
from gui.words import tr
from telemetry.replay.scoring.results import StrategySummary, comparable, paired
from telemetry.replay.scoring.statistics import in_words

NAMED = 3


def summary_words(matrix: Matrix, summaries: Sequence[StrategySummary], palette: str) -> str:
    """``summaries``: the best first, one at least. ``palette``: the file that all runs are read with; empty: their own."""
    best = summaries[0]
    equal = [one for one in summaries if standing(one) == standing(best)]
    interval = best.wilson95 or (0.0, 1.0)
    words = tr(
        "Best so far: {names}, {correct} of {runs} right ({low:.0f} to {high:.0f} % at 95 %).",
        names=_names(equal),
        correct=best.correct,
        runs=best.runs,
        low=100 * interval[0],
        high=100 * interval[1],
    )
    if len(equal) > 1 and best.correct == best.runs:
        words += " " + tr("More runs, or harder ones, tell them apart.")
    elif len(comparable(summaries)) > 1 and not matrix.busy:
        test = paired(best.strategy, summaries[1].strategy, matrix.all_results())
        if test is not None:
            words += " " + in_words(test, best.strategy, summaries[1].strategy)
    words += _change_words(matrix)
    if palette:
        words += " " + tr("Colours are those of {file} for all runs; change that under Colours.", file=palette)
    simulated = {result.run.simulated for result in matrix.results.values()}
    if simulated == {True}:
        words += " " + tr("All of these runs are simulated.")
    elif True in simulated:
        words += " " + tr("Simulated runs are among these.")
    return words


def _change_words(matrix: Matrix) -> str:
    """What the changed settings do, run by run; empty where none are changed."""
    change = matrix.change()
    if change is None:
        return ""
    won, lost = change
    base, after, before = matrix.base, matrix.summary(VARIANT), matrix.summary(matrix.base)
    words = tr("With your changes {name} reads {after} correctly (was {before}).", name=base, after=after.correct,
               before=before.correct)  # fmt: skip
    if won:
        words += " " + tr("Newly correct: {names}.", names=_few([path.stem for path in won]))
    if lost:
        words += " " + tr("Newly wrong: {names}.", names=_few([path.stem for path in lost]))
    return f" {words}"



def _names(equal: list[StrategySummary]) -> str:
    return _few([tr("the changed strategy") if one.strategy == VARIANT else one.strategy for one in equal])


def _few(names: list[str]) -> str:
    """The first few, the others counted."""
    if len(names) <= NAMED:
        return tr(" and ").join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
    return tr("{names} and {n} more", names=", ".join(names[:NAMED]), n=len(names) - NAMED)
