"""A few altered copies of every run, each a small step off: settings that read those right too have room to spare."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from telemetry.tuning.alter import Alterer
from telemetry.tuning.code_rule import learn_rule
from telemetry.tuning.directions import DIRECTIONS, lacking
from telemetry.tuning.robot_model import fit_robot
from telemetry.tuning.runs import SavedRun

STEPS = {
    "speed": 1.2, "height": 1.1, "light": 1.2, "tint": 0.05, "wear": 0.05, "noise": 1.5, "lost lines": 0.03, "slip": 0.02,
}  # fmt: skip
"""How far each copy is off: about what another day brings (common practice, no source)."""
MOST = 400
"""So many copies are made at the most; of many runs only some are copied."""


def altered_copies(runs: Sequence[SavedRun]) -> list[SavedRun]:
    """One copy of each run for each of STEPS that the recordings allow. Altered, not recorded."""
    able = [one for one in DIRECTIONS if one.name in STEPS and not lacking(one, runs)]
    if not able or not runs:
        return []
    alterer = Alterer(fit_robot(runs, intervals=False), learn_rule(runs))
    chosen = runs if len(runs) * len(able) <= MOST else runs[:: -(-len(runs) * len(able) // MOST)]
    copies = []
    for k, run in enumerate(chosen):
        for number, direction in enumerate(able):
            sign = -1.0 if direction.both and k % 2 else 1.0
            rng = np.random.default_rng([k, number])
            altered = direction.alter(alterer, run, STEPS[direction.name] * sign, rng)
            copies.append(replace(altered, name=f"{run.name} ({direction.name})"))
    return copies


def copied_from(name: str) -> str:
    """The run that a copy of this name was made of."""
    return name.rpartition(" (")[0]
