"""How a sensor makes its own colour of its raw channels, learnt from recordings that have both.

A linear rule in the shares of the channels and the logarithm of the brightness (multinomial logistic regression, fitted by
scipy): whoever takes the nearest of taught colours in such a plane, or cuts it by straight lines, is described by it, and it
says something about levels not recorded, as the nearest recorded sample would not. Only where it says another colour of
the altered sample than of the recorded one is the sensor's own word changed: so what the rule does not know of the sensor
(how many readings it waits for, its errors) stays as recorded. From some level down the sensor says none. Recordings show
that level where samples below it are coloured like a marker's and yet none; else it is somewhere below the darkest level at
which the sensor was seen to say a colour, and no recording tells where.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from telemetry.course import NONE
from telemetry.sample import Columns, SampleTable
from telemetry.tuning.runs import SavedRun, table_like
from telemetry.tuning.signals import Floats, black_of, raw_columns, values

MOST_ROWS = 6000
PENALTY = 1e-4
MOST_WAITS, MOST_LEARNT = 4, 24
BETTER = 0.003
"""So much better must the samples be told for a sensor to be held to wait."""
DARKEST_PERCENT = 0.2
"""So many of the samples with a colour may be darker than the darkest level that counts."""
LEAST_DIM = 5
"""So many samples that are too dark for their colour show where none begins."""


@dataclass(frozen=True, slots=True)
class CodeRule:
    """``names``: colours by name; ``weights`` (features, colours); ``darkest``: no colour below this mean level above black;
    ``agrees``: share of recorded samples it gets right; ``waits``: after so many equal measurements the sensor says a
    colour; ``shows_dark``: whether samples below ``darkest`` were none that would else be a colour.
    """

    names: tuple[str, ...]
    weights: Floats
    darkest: float
    agrees: float
    waits: int = 1
    shows_dark: bool = False

    def recoded(
        self, before: SampleTable, after: SampleTable, dark: float, rows: NDArray[np.int64] | None = None
    ) -> SampleTable:
        """``after``, which has the colours of ``before``, with the colours that its altered raw channels give.

        ``rows``: from which row of ``before`` each row is; without it they are the same. ``dark``: no colour below this part
        of the darkest level, where recordings do not show that level; samples without a colour stay without.
        """
        columns: Columns = dict(after.columns)
        for names in raw_columns(after):
            colour = names[0].replace("red", "colour", 1)
            if colour not in columns:
                continue
            was, now = (settled(self.said(table, names, dark), self.waits) for table in (before, after))
            was = was if rows is None else was[rows]
            number = np.array([after.colours.index(name) if name in after.colours else 0 for name in (*self.names, NONE)])
            old = np.asarray(columns[colour][: after.rows], dtype=np.int64)
            changed = (old >= 0) & (was >= 0) & (now >= 0) & (was != now)
            columns[colour] = np.where(changed, number[now], old).astype(np.int16)
        return table_like(after, columns, after.rows, after.notes)

    def said(self, table: SampleTable, names: tuple[str, ...], dark: float) -> NDArray[np.int64]:
        """Place of each sample's colour in ``names``, one past the end for the dark, -1 where a channel is missing."""
        features = features_of(table, names)
        said: NDArray[np.int64] = np.argmax(np.nan_to_num(features) @ self.weights, axis=1)
        level = (1.0 if self.shows_dark else dark) * self.darkest
        said[level > _levels(features)] = len(self.names)
        if NONE in self.names:
            said[said == len(self.names)] = self.names.index(NONE)
        said[~np.isfinite(features).all(axis=1)] = -1
        return said


def settled(codes: NDArray[np.int64], waits: int) -> NDArray[np.int64]:
    """As a sensor says them that gives a new colour only after so many equal measurements in a row."""
    if waits <= 1 or len(codes) < 2:
        return codes
    begins = np.flatnonzero(np.concatenate([[True], np.diff(codes) != 0]))
    begin_of = np.repeat(begins, np.diff(np.append(begins, len(codes))))
    rows = np.arange(len(codes))
    steady = np.where(rows - begin_of >= waits - 1, rows, 0)
    out: NDArray[np.int64] = codes[np.maximum.accumulate(steady)]
    return out


def _levels(features: Floats) -> Floats:
    """Mean level above black of each row of features."""
    out: Floats = np.exp(features[:, 3] + 6.0) / 3.0
    return out


def features_of(table: SampleTable, names: tuple[str, ...]) -> Floats:
    """(rows, 4): 1, the shares of red and green, the logarithm of all three; about 1 in size."""
    levels = np.stack([np.maximum(values(table, name) - black_of(table, name), 0.0) for name in names])
    total = np.maximum(levels.sum(axis=0), 1.0)
    shares = 10.0 * (levels[:2] / total - 1.0 / 3.0)
    out: Floats = np.stack([np.ones(table.rows), shares[0], shares[1], np.log(total) - 6.0], axis=1)
    return out


def learn_rule(runs: Sequence[SavedRun]) -> CodeRule | None:
    """The rule of the sensor in these runs; None where they have no colour beside raw channels, or scipy is missing."""
    features, labels = [], []
    known: dict[str, int] = {}
    for run in runs:
        for names in raw_columns(run.table):
            colour = names[0].replace("red", "colour", 1)
            if colour in run.table.columns:
                own = np.asarray(run.table.columns[colour][: run.table.rows], dtype=np.int64)
                there = features_of(run.table, names)
                fine = (own >= 0) & np.isfinite(there).all(axis=1)
                number = np.array([known.setdefault(name, len(known)) for name in run.table.colours])
                features.append(there[fine])
                labels.append(number[own[fine]])
    if not features or not sum(map(len, labels)):
        return None
    x, y = np.concatenate(features), np.concatenate(labels)
    used = np.unique(y)
    y = np.searchsorted(used, y)
    names_used = tuple(np.array(list(known))[used].tolist())
    weights = _fitted(*_even(x, y, len(used)), len(used))
    if weights is None:
        return None
    none = names_used.index(NONE) if NONE in names_used else len(used)
    sure = (y != none) & (np.argmax(x @ weights, axis=1) == y)
    darkest = float(np.percentile(_levels(x[sure]), DARKEST_PERCENT)) if sure.any() else 0.0
    dim = (y == none) & (_levels(x) < darkest)
    without = _fitted(*_even(x[~dim], y[~dim], len(used)), len(used)) if dim.sum() >= LEAST_DIM else None
    begins = None
    if without is not None:
        coloured = np.argmax(x @ without, axis=1) != none
        begins = _none_below(_levels(x[coloured]), y[coloured] == none)
    shows_dark = begins is not None
    if without is not None and begins is not None:
        weights, darkest = without, begins
    rule = CodeRule(names_used, weights, darkest, float((np.argmax(x @ weights, axis=1) == y).mean()), 1, shows_dark)
    agree = [_agreement(rule, runs, waits) for waits in range(1, MOST_WAITS + 1)]
    best = int(np.argmax(agree))
    return replace(rule, waits=best + 1, agrees=agree[best]) if agree[best] > agree[0] + BETTER else rule


def _none_below(levels: Floats, none: NDArray[np.bool_]) -> float | None:
    """Below which level samples that look coloured are none: where that explains most of them. None where it explains few.

    It lies between the brightest of those and the next brighter sample, in the middle as levels go.
    """
    order = np.argsort(levels)
    gains = np.cumsum(np.where(none[order], 1, -1))
    best = int(np.argmax(gains)) if len(gains) else 0
    if not len(gains) or gains[best] < max(LEAST_DIM, 0.5 * (best + 1)):
        return None
    above = levels[order[min(best + 1, len(order) - 1)]]
    return float(np.sqrt(levels[order[best]] * above))


def _agreement(rule: CodeRule, runs: Sequence[SavedRun], waits: int) -> float:
    """Share of the samples whose colour is what the rule says after so many equal measurements."""
    right = total = 0
    for run in runs[:: -(-len(runs) // MOST_LEARNT)]:
        for names in raw_columns(run.table):
            colour = names[0].replace("red", "colour", 1)
            if colour in run.table.columns:
                own = np.asarray(run.table.columns[colour][: run.table.rows], dtype=np.int64)
                told = settled(rule.said(run.table, names, 1.0), waits)
                here = [run.table.colours.index(name) if name in run.table.colours else -2 for name in (*rule.names, NONE)]
                right += int(((own >= 0) & (np.array(here)[told] == own)).sum())
                total += int((own >= 0).sum())
    return right / max(1, total)


def _even(x: Floats, y: NDArray[np.int64], kinds: int) -> tuple[Floats, NDArray[np.int64]]:
    """At most MOST_ROWS samples, the frequent colours thinned."""
    rng = np.random.default_rng(0)
    each = MOST_ROWS // max(1, kinds)
    kept = []
    for kind in range(kinds):
        rows = np.flatnonzero(y == kind)
        kept.append(rows if len(rows) <= each else rng.choice(rows, each, replace=False))
    chosen = np.concatenate(kept)
    return x[chosen], y[chosen]


def _fitted(x: Floats, y: NDArray[np.int64], kinds: int) -> Floats | None:
    try:
        from scipy.optimize import minimize
        from scipy.special import logsumexp
    except ImportError:
        return None
    is_kind = np.eye(kinds)[y]

    def loss(flat: Floats) -> tuple[float, Floats]:
        weights = flat.reshape(x.shape[1], kinds)
        scores = x @ weights
        norm = logsumexp(scores, axis=1, keepdims=True)
        rest = np.exp(scores - norm) - is_kind
        value = float((norm[:, 0] - (scores * is_kind).sum(axis=1)).mean() + PENALTY * (flat**2).sum())
        return value, (x.T @ rest / len(x) + 2 * PENALTY * weights).ravel()

    found = minimize(loss, np.zeros(x.shape[1] * kinds), jac=True, method="L-BFGS-B", options={"maxiter": 500})
    out: Floats = found.x.reshape(x.shape[1], kinds)
    return out
