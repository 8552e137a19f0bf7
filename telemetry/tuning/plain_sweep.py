"""A sweep without the compiler: the same plans stepped one after the other by the interpreter, and scored alike."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from telemetry.reading.chain import ELSEWHERE, decode
from telemetry.reading.plan import Plan
from telemetry.reading.sweep import Steps
from telemetry.sample import IntColumn


def over_plain(runs: Sequence[Steps], plans: Sequence[Plan]) -> IntColumn:
    """(runs, settings, 5), as ``Sweep.over``; about a million samples a second."""
    out = np.zeros((len(runs), len(plans), 5), dtype=np.int64)
    for r, run in enumerate(runs):
        for s, plan in enumerate(plans):
            out[r, s] = _one(run, plan)
    return out


def _one(run: Steps, plan: Plan) -> tuple[int, int, int, int, int]:
    plan.reset()
    events = [(row, event) for row, _, event in plan.run(run.wholes, run.notes, 0, run.rows)]
    events += [(run.rows - 1, event) for _, event in plan.finish()]
    got = [0] * len(run.truth)
    at = [-1] * len(run.truth)
    surplus = diverges = 0
    for row, event in events:
        decision = decode(event)
        if decision.slot is not None:
            got[decision.slot] = decision.colour
            at[decision.slot] = row
        elif decision.how == ELSEWHERE:
            diverges = 1
            break
        else:
            surplus += 1
    wrong = [k for k, true in enumerate(run.truth) if got[k] != true]
    return len(got) - len(wrong), -1 if min(at) < 0 else max(at), surplus, diverges, sum(1 << k for k in wrong)
