"""The columns of a robot's lines as text, rounded as the robot rounds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from telemetry.sources.synthetic.drive import Drive
from telemetry.sources.synthetic.physics import Physics
from telemetry.sources.synthetic.printer import texts
from telemetry.sources.synthetic.sensor import Measurements, waves


@dataclass(frozen=True, slots=True)
class Sends:
    """What a robot sends, and how; see ``simulate``."""

    codes: bool = True
    raw: bool = True
    number_codes: bool = False
    checksum: bool = False
    read_notes: bool = True
    clock_ms: int | None = None
    first_n: int = 0


@dataclass
class Printed:
    """Makes the columns as text, rounded as the robot rounds."""

    world: Physics
    vocabulary: tuple[str, ...]
    sends: Sends
    rng: np.random.Generator

    def _missing(self, rows: int) -> NDArray[np.bool_] | None:
        chance = self.world.missing_value_chance
        return self.rng.random(rows) < chance if chance > 0.0 else None

    def clock(self, t_ms: NDArray[np.int64], first_n: int) -> list[tuple[str, list[str]]]:
        numbers = [str(number) for number in range(first_n, first_n + len(t_ms))]
        return [("n", numbers), ("t/ms", texts(t_ms.astype(np.float64), 0))]

    def sensor(
        self, measured: Measurements, latest: NDArray[np.int64], code: NDArray[np.int64], suffix: str
    ) -> list[tuple[str, list[str]]]:
        rows = len(latest)
        names = ["none", *self.vocabulary]
        shown = [str(number) for number in range(len(names))] if self.sends.number_codes else names
        colour = [shown[value] for value in code.tolist()]
        gone = self._missing(rows)
        if gone is not None:
            for row in np.flatnonzero(gone).tolist():
                colour[row] = ""
        columns = [(f"colour{suffix}", colour)] if self.sends.codes else []
        if self.sends.raw:
            columns.append((f"refl{suffix}/%", texts(measured.refl_pct[latest], 0, self._missing(rows))))
            for place, channel in enumerate(("red", "green", "blue")):
                columns.append((f"{channel}{suffix}", texts(measured.counts[latest, place], 0, self._missing(rows))))
        return columns

    def motion(self, way: Drive, ticks: NDArray[np.float64]) -> list[tuple[str, list[str]]]:
        grid = np.arange(len(way.leg), dtype=np.float64)
        rows = len(ticks)
        drift = self.world.gyro_drift_max_deg_s * self.rng.uniform(-1.0, 1.0) * ticks / 1000.0
        # Both go with the way, not with the time: a robot that stands still sends the same values again.
        odometer = np.interp(ticks, grid, way.odometer_cm)
        along = np.interp(ticks, grid, way.leg * 500.0 + way.travelled_cm)
        wobble = self.world.heading_wobble_deg * waves(self.rng, along, 5.0, 30.0)
        heading = np.interp(ticks, grid, way.heading_deg) + drift + wobble
        uneven = odometer + self.world.dist_uneven_cm * waves(self.rng, along, 3.0, 15.0)
        dist = np.floor(uneven / self.world.dist_step_cm) * self.world.dist_step_cm
        return [
            ("heading/deg", texts(heading, 1, self._missing(rows))),
            ("dist/cm", texts(dist, 1, self._missing(rows))),
        ]

    def preface(self, names: Sequence[str]) -> list[str]:
        lines = ["#" + ",".join(names)]
        if self.sends.codes and self.sends.number_codes:
            lines.append("#codes," + ",".join(f"{number}={name}" for number, name in enumerate(["none", *self.vocabulary])))
        raw = [name for name in names if name.split(".")[0] in {"red", "green", "blue"}]
        if raw:
            full, black = self.world.full_scale_counts, self.world.black_counts
            limits = [f"{name}={black:g}..{full:g}" for name in raw]
            limits += [f"{name.split('/')[0]}=0..100" for name in names if name.startswith("refl")]
            lines.append("#range," + ",".join(limits))
        return lines
