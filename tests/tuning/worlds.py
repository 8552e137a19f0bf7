"""Robots that can be driven again with one thing changed: faster, the sensor higher, its lamp dimmer. All simulated.

The built-in robot at three levels, and the generators of tests/physics, on which nothing of the alterations was fitted.
A *set-up* is one robot, field and lamp; of the built-in robot every run has a day of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from physics.cases import GENERATORS, only, palette_of
from physics.regulated import Regulated
from physics.spectral import Spectral

from telemetry.sources.synthetic.levels import LEVELS
from telemetry.sources.synthetic.physics import Physics
from telemetry.tuning.runs import SavedRun
from tuning.made_runs import made

CHANGED: dict[str, Callable[[Physics, float], Physics]] = {
    # Ramps too, else the legs are too short to become fast on.
    "speed": lambda world, value: replace(
        world, speed_cm_s=world.speed_cm_s * value, ramp_cm_s2=world.ramp_cm_s2 * value**2
    ),
    "height": lambda world, value: replace(world, height_mm=world.height_mm * value),
    "light": lambda world, value: replace(world, height_nominal_mm=world.height_nominal_mm / value**0.5),
}


@dataclass(frozen=True)
class World:
    """``setups`` of a generator at one level; ``directions`` in which it can be changed."""

    generator: str
    level: str
    setups: range
    stream: str = "both"
    directions: tuple[str, ...] = ("speed", "height", "light")

    def driven(self, setup: int, seeds: Sequence[int], of: str = "", value: float = 1.0) -> list[SavedRun]:
        """The runs ``seeds`` of one set-up, with one thing changed; the same truths and drawn speeds each time."""
        if self.generator == "built-in":
            start = LEVELS[self.level].physics
            physics = CHANGED[of](start, value) if of else start
            return [made(self.level, 1000 * setup + seed, physics) for seed in seeds]
        robot: Any = GENERATORS[self.generator].make(setup, self.level)
        if of == "height":
            robot.level = replace(robot.level, height=tuple(value * end for end in robot.level.height))
        elif of == "speed":
            motion = replace(robot.level.motion, speed=tuple(value * end for end in robot.level.motion.speed))
            robot.level = replace(robot.level, motion=motion)
        palette = palette_of(self.generator, setup, self.level, False)
        runs = []
        for seed in seeds:
            with dimmed(robot, value if of == "light" else 1.0):
                table, truth = robot.drive(seed)
            name = f"{self.generator}-{self.level}-{setup}-{seed}"
            runs.append(SavedRun(name, only(table, self.stream), robot.course, truth, palette, simulated=True))
        return runs


@contextmanager
def dimmed(robot: Any, dimmer: float) -> Any:
    """The robot's own lamp so many times dimmer; other light and its on-board classifier stay."""
    if dimmer == 1.0:
        yield
    elif isinstance(robot, Spectral):
        whole = robot._strip

        def strip(*args: Any) -> Any:
            own, room = whole(*args)
            return own / dimmer, room

        robot._strip = strip  # type: ignore[method-assign]
        yield
        robot._strip = whole  # type: ignore[method-assign]
    elif isinstance(robot, Regulated):
        light = robot._light

        def less(*args: Any) -> Any:
            bright = robot.surface
            robot.surface = {name: np.asarray(look) / dimmer for name, look in bright.items()}
            out = light(*args)
            robot.surface = bright
            return out

        robot._light = less  # type: ignore[method-assign]
        yield
        robot._light = light  # type: ignore[method-assign]
    else:
        raise ValueError(f"{type(robot).__name__} has no lamp to dim")


WORLDS = {
    "practice": World("built-in", "practice", range(1)),
    "venue": World("built-in", "venue", range(1)),
    "extreme": World("built-in", "extreme", range(1)),
    "spectral lab": World("spectral", "lab", range(8)),
    "spectral hall": World("spectral", "hall", range(8)),
    "spectral slow": World("spectral", "slow", range(8)),
    "regulated lab": World("regulated", "lab", range(8)),
    "regulated shop": World("regulated", "shop", range(8)),
    "spliced": World("spliced", "steady field", range(4), directions=("speed",)),
}
