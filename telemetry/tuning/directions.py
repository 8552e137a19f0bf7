"""In which directions a recording can be altered, how far the search goes, and in what unit a coach reads it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.errors import UsageError
from telemetry.extras import how_to_add
from telemetry.reading.strategy import did_you_mean
from telemetry.tuning.alter import Alterer, Rng
from telemetry.tuning.robot_model import RobotModel
from telemetry.tuning.runs import SavedRun
from telemetry.tuning.signals import raw_columns

Alter = Callable[[Alterer, SavedRun, float, Rng], SavedRun]


@dataclass(frozen=True, slots=True)
class Direction:
    """``ladder``: values from as recorded (the first) on, in the direction's own scale; what a coach reads is
    ``recorded(model) * value`` where ``scales``, else ``recorded + value``. ``needs``: 'raw', 'dist' or nothing.
    ``both``: tried with the value and with its negative, and right only where both are. ``unseen``: depends on what
    recordings cannot show (unseen.py), so its interval is wider than chance alone. ``dims``: the sensor sees less light.
    """

    name: str
    unit: str
    what: str
    alter: Alter
    ladder: tuple[float, ...]
    recorded: Callable[[RobotModel], float | None]
    scales: bool = True
    needs: str = ""
    both: bool = False
    unseen: bool = False
    dims: bool = False

    def shown(self, model: RobotModel, value: float) -> float:
        """A value as a coach reads it."""
        start = self.recorded(model)
        if start is None:
            return value
        return start * value if self.scales else start + value


def _times(most: float, steps: int) -> tuple[float, ...]:
    return tuple(float(value) for value in np.geomspace(1.0, most, steps))


def _parts(most: float, steps: int) -> tuple[float, ...]:
    return tuple(float(value) for value in np.linspace(0.0, most, steps))


DIRECTIONS: Sequence[Direction] = (
    Direction("speed", "cm/s", "a faster robot", lambda a, r, v, g: a.speed(r, v, g), _times(8.0, 13),
              lambda m: m.speed_cm_s.value, needs="dist", unseen=True),
    Direction("height", "factor", "the sensor higher", lambda a, r, v, g: a.height(r, v, g), _times(4.0, 12),
              lambda _: 1.0, needs="raw", unseen=True, dims=True),
    Direction("light", "times dimmer", "its own light dimmer", lambda a, r, v, g: a.light(r, v, g),
              _times(16.0, 13), lambda _: 1.0, needs="raw", unseen=True, dims=True),
    Direction("tint", "part", "warmer or colder light", lambda a, r, v, g: a.tint(r, v, g), _parts(0.6, 13),
              lambda _: 0.0, scales=False, needs="raw", both=True),
    Direction("flicker", "part", "lamps that flicker (mains)", lambda a, r, v, g: a.flicker(r, v, g), _parts(0.9, 10),
              lambda _: 0.0, scales=False, needs="raw"),
    Direction("wear", "part", "markers worn or dirty", lambda a, r, v, g: a.wear(r, v, g), _parts(0.95, 12),
              lambda _: 0.0, scales=False, needs="raw"),
    Direction("noise", "times", "a noisier sensor", lambda a, r, v, g: a.noise(r, v, g), _times(32.0, 12),
              lambda _: 1.0, needs="raw"),
    Direction("lost lines", "part", "lines lost on the way", lambda a, r, v, g: a.lost(r, v, g), _parts(0.8, 12),
              lambda m: m.lost.value or 0.0, scales=False),
    Direction("slip", "part", "wheels that slip", lambda a, r, v, g: a.slip(r, v, g), _parts(0.3, 13),
              lambda _: 0.0, scales=False, needs="dist", both=True),
    Direction("loop", "ms", "a slower program loop", lambda a, r, v, g: a.loop(r, v, g), _times(16.0, 13),
              lambda m: m.loop_ms.value),
)  # fmt: skip
"""All directions, those a coach asks about first at the top."""


def asked_directions(words: str) -> list[Direction]:
    """Those named in ``speed,height``; all where nothing is named. Raises UsageError."""
    known = {one.name: one for one in DIRECTIONS}
    names = [word.strip() for word in words.split(",") if word.strip()]
    for name in names:
        if name not in known:
            raise UsageError(f"there is no direction '{name}'", where="--only", todo=did_you_mean(name, list(known)))
    return [known[name] for name in dict.fromkeys(names)] if names else list(DIRECTIONS)


def lacking(direction: Direction, runs: Sequence[SavedRun]) -> str:
    """Why these runs cannot be altered in this direction; empty where they can."""
    if direction.needs == "dist" and not any("dist" in run.table.columns for run in runs):
        return "the recordings hold no distance"
    if direction.needs == "raw":
        if not any(raw_columns(run.table) for run in runs):
            return "the recordings hold no raw channels"
        try:
            import scipy  # noqa: F401
        except ImportError:
            return f"scipy is not installed ({how_to_add('tune')})"
    return ""
