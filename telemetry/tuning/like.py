"""The built-in robot made like one's own, by a model fitted to recordings. What it then sends is simulated."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from telemetry.calibrate.build import build_palette
from telemetry.calibrate.capture import still_capture
from telemetry.calibrate.files import table_from_text
from telemetry.course import NONE, Course, Truth
from telemetry.palette import Palette
from telemetry.palette_default import default_palette
from telemetry.sample import SampleTable
from telemetry.sources.synthetic.levels import LEVELS
from telemetry.sources.synthetic.physics import Physics
from telemetry.sources.synthetic.run import simulate, simulate_still
from telemetry.sources.synthetic.surfaces import responses
from telemetry.stream.decoder import Decoder
from telemetry.tuning.robot_model import RobotModel, level_of
from telemetry.tuning.runs import SavedRun

LIKE = "venue"
"""Where recordings say nothing (lamps, how markers wear) the robot is that of this level."""
TRIED = 4
"""So many runs are driven to find how bright a white is."""
NEUTRALS = ("black", "grey 35", "grey 50", "grey 70", "grey 80")


def physics_like(model: RobotModel, course: Course) -> Physics:
    """The built-in robot's numbers with those of the model, where it has them. ``course``: on which it is driven."""
    start = LEVELS[LIKE].physics
    changes: dict[str, float | str] = {"ambient_max": 0.0, "gain_spread": 0.0}
    loop = model.loop_ms.value or start.loop_ms
    changes |= {"loop_ms": loop, "measuring_ms": model.period_ms.value or 0.8 * loop}
    for name, estimate in (
        ("speed_cm_s", model.speed_cm_s), ("loop_jitter", model.loop_jitter), ("stagger_ms", model.stagger_ms),
        ("missing_value_chance", model.missing), ("noise_common", model.common), ("noise_lag1", model.lag1),
        ("black_counts", model.black), ("full_scale_counts", model.full), ("slip_max", model.slip),
        ("start_off_max_cm", model.start_cm),
    ):  # fmt: skip
        if estimate.value is not None:
            changes[name] = max(0.0, estimate.value)
    for name in ("noise_common", "noise_lag1"):
        changes[name] = min(0.98, float(changes.get(name, 0.0)))
    if model.floor.value is not None:
        changes["read_noise_counts"] = math.sqrt(max(0.0, model.floor.value - 1.0 / 12.0))  # without that of whole counts
        changes["shot_noise"] = math.sqrt(max(0.0, model.shot.value or 0.0))
    height_mm = start.height_nominal_mm * (model.height.value or 1.0)
    changes["height_mm"] = height_mm
    if model.spot_cm.value is not None:
        # The middle of an even round spot deviates by half its radius.
        changes["spot_half_angle_deg"] = math.degrees(math.atan(20.0 * model.spot_cm.value / height_mm))
    if model.lost.value and model.gap.value:
        changes |= {"lost_line_chance": model.lost.value / model.gap.value, "lost_lines_mean": model.gap.value}
    return _lit_like(model, course, replace(start, **changes))  # type: ignore[arg-type]


def _lit_like(model: RobotModel, course: Course, physics: Physics) -> Physics:
    """With a white, and a field, that make levels as recorded. Found by driving, for how long the brightest marker is in
    view depends on the course and the speed.
    """
    if not (model.field.value and model.brightest.value and model.full.value):
        return physics
    scale = model.full.value - (model.black.value or 0.0)
    means = responses(list(NEUTRALS)).mean(axis=1)
    lamp = (physics.height_nominal_mm / physics.height_mm) ** 2
    for _ in range(2):
        driven = [level_of(run, 99.0) for run in driven_like(physics, course, TRIED)]
        brightest = float(np.median([level for level in driven if level is not None]))
        white = physics.white_counts * model.brightest.value / max(brightest, 1e-6)
        share = model.field.value * scale / (white * lamp)
        patch = NEUTRALS[int(np.argmin(np.abs(means - share)))]
        physics = replace(physics, white_counts=white, field_patch=patch)
    return physics


def palette_like(physics: Physics, course: Course) -> Palette:
    """What a calibration of that robot, its sensor at the nominal height, makes of the course's colours. Simulated."""
    near = replace(physics, height_mm=physics.height_nominal_mm)
    captures = []
    for colour in (NONE, *course.colours):
        run = simulate_still(colour, LIKE, physics=near)
        captures.append(still_capture(colour, table_from_text(run.data, colour)))
    return build_palette(captures)


def driven_like(
    physics: Physics, course: Course, count: int, truth: Truth | None = None, *, first: int = 0,
    palette: Palette | None = None,
) -> list[SavedRun]:  # fmt: skip
    """Simulated runs of that robot on a course: to be held beside the recordings, or to try strategies on.

    ``truth``: what stands there; without it drawn by lot. ``first``: the first seed. ``palette``: without it the default.
    """
    runs = []
    for seed in range(first, first + count):
        run = simulate(LIKE, seed, course=course, physics=physics, truth=truth)
        decoder, table = Decoder(), SampleTable()
        for chunk in (*decoder.feed(run.data, 0), *decoder.finish()):
            table.append(chunk)
        runs.append(SavedRun(f"simulated {seed}", table, course, run.truth, palette or default_palette(), simulated=True))
    return runs
