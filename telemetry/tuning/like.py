"""The built-in robot made like one's own, by a model fitted to recordings. What it then sends is simulated."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from telemetry.course import Course, Truth
from telemetry.palette_default import default_palette
from telemetry.sample import SampleTable
from telemetry.sources.synthetic.levels import LEVELS
from telemetry.sources.synthetic.physics import Physics
from telemetry.sources.synthetic.run import simulate
from telemetry.sources.synthetic.surfaces import responses
from telemetry.stream.decoder import Decoder
from telemetry.tuning.robot_model import RobotModel
from telemetry.tuning.runs import SavedRun

LIKE = "venue"
"""Where recordings say nothing (lamps, how markers wear) the robot is that of this level."""
NEUTRALS = ("black", "grey 35", "grey 50", "grey 70", "grey 80")


def physics_like(model: RobotModel) -> Physics:
    """The built-in robot's numbers with those of the model, where it has them."""
    start = LEVELS[LIKE].physics
    changes: dict[str, float | str] = {"height_mm": start.height_nominal_mm, "ambient_max": 0.0, "gain_spread": 0.0}
    loop = model.loop_ms.value or start.loop_ms
    changes |= {"loop_ms": loop, "measuring_ms": model.period_ms.value or 0.8 * loop}
    for name, estimate in (
        ("speed_cm_s", model.speed_cm_s), ("loop_jitter", model.loop_jitter), ("stagger_ms", model.stagger_ms),
        ("missing_value_chance", model.missing), ("noise_common", model.common), ("noise_lag1", model.lag1),
        ("black_counts", model.black), ("full_scale_counts", model.full),
    ):  # fmt: skip
        if estimate.value is not None:
            changes[name] = max(0.0, estimate.value)
    for name in ("noise_common", "noise_lag1"):
        changes[name] = min(0.98, float(changes.get(name, 0.0)))
    if model.floor.value is not None:
        changes["read_noise_counts"] = math.sqrt(max(0.0, model.floor.value - 1.0 / 12.0))  # without that of whole counts
        changes["shot_noise"] = math.sqrt(max(0.0, model.shot.value or 0.0))
    if model.spot_cm.value is not None:
        # The middle of an even round spot deviates by half its radius.
        changes["spot_half_angle_deg"] = math.degrees(math.atan(20.0 * model.spot_cm.value / start.height_nominal_mm))
    if model.lost.value and model.gap.value:
        changes |= {"lost_line_chance": model.lost.value / model.gap.value, "lost_lines_mean": model.gap.value}
    if model.field.value and model.brightest.value and model.full.value:
        scale = model.full.value - (model.black.value or 0.0)
        white = float(responses(["white"])[0].mean())
        changes["white_counts"] = model.brightest.value * scale / white
        share = model.field.value / model.brightest.value * white
        means = responses(list(NEUTRALS)).mean(axis=1)
        changes["field_patch"] = NEUTRALS[int(np.argmin(np.abs(means - share)))]
    return replace(start, **changes)  # type: ignore[arg-type]


def driven_like(physics: Physics, course: Course, count: int, truth: Truth | None = None, first: int = 0) -> list[SavedRun]:
    """Simulated runs of that robot on a course: to be held beside the recordings, or to try strategies on.

    ``truth``: what stands there; without it drawn by lot. ``first``: the first seed.
    """
    runs = []
    for seed in range(first, first + count):
        run = simulate(LIKE, seed, course=course, physics=physics, truth=truth)
        decoder, table = Decoder(), SampleTable()
        for chunk in (*decoder.feed(run.data, 0), *decoder.finish()):
            table.append(chunk)
        runs.append(SavedRun(f"simulated {seed}", table, course, run.truth, default_palette(), simulated=True))
    return runs
