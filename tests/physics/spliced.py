"""Real readings of blocks in changing poses (../shared/real/README.md), spliced into drives past markers.

A marker is a piece of one block's readings in the order they were taken; the field is another block's. The readings are
real, the drive is not: places, edges (one or two mixed readings), distances and codes are made here. What a palette is
made from lies in other parts of the series than what runs are made from.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from telemetry.course import Course, Truth, parse_course
from telemetry.sample import SampleTable
from telemetry.sources.synthetic.truth import draw_truth

from .layouts import Floats, Leg, Motion, drive_along, table_of

FILE = "shared/real/blocks_varied_pose_rgb.csv"
ABSENT = f"the real readings are not here: ../{FILE}"
FIELDS = ("white", "blue", "green", "yellow")
BLOCKS = ("blue", "green", "orange", "purple", "red", "white", "yellow")


@cache
def readings() -> dict[str, Floats]:
    """Block -> (n, 3) in the order they were taken; empty where the file is absent."""
    file = next((above / FILE for above in Path(__file__).resolve().parents if (above / FILE).is_file()), None)
    if file is None:
        return {}
    rows = list(csv.DictReader(line for line in file.read_text().splitlines() if not line.startswith("#")))
    return {
        one: np.array([[float(row[c]) for c in ("red", "green", "blue")] for row in rows if row["label"] == one])
        for one in BLOCKS
    }


@dataclass(frozen=True)
class Level:
    """``pieces``: from how many places of the series each of the palette's captures comes; ``steady``: the field
    is seen from an even height, the markers are not."""

    pieces: int = 6
    steady: bool = False
    motion: Motion = field(default_factory=Motion)


LEVELS: dict[str, Level] = {
    "steady field": Level(steady=True),
    "poses": Level(),
    "one take": Level(pieces=2),
    "fast": Level(steady=True, motion=Motion(speed=(40.0, 60.0))),
    "slipping": Level(steady=True, motion=Motion(scale=0.08, start_cm=3.0, slip_cm=0.12)),
}


def _course(field_block: str, setup: int) -> Course:
    names = [one for one in BLOCKS if one != field_block]
    places = ((10.0, 18.5, 30.0, 37.0, 47.0), (9.0, 20.0, 26.0, 40.0, 52.0))[setup % 2]
    rule = "distinct" if setup % 4 < 2 else ""
    listed = ", ".join(f'"{one}"' for one in names)
    slots = "".join(
        f'[[slot]]\nname = "block {i + 1}"\nat_cm = {at}\nwidth_cm = 3.2\n'
        + ('group = "blocks"\n' if rule else f"colours = [{listed}]\n")
        for i, at in enumerate(places)
    )
    group = f'[[group]]\nname = "blocks"\ndistinct = [{listed}]\n' if rule else ""
    return parse_course(f'[course]\nname = "blocks"\n{slots}{group}')


class Spliced:
    """One field and layout at one level. Deterministic in (setup, level, seed)."""

    def __init__(self, setup: int, level: str) -> None:
        self.level, self.number = LEVELS[level], [5501, setup, list(LEVELS).index(level)]
        self.field = FIELDS[setup % len(FIELDS)]
        self.course = _course(self.field, setup)
        self.layout = self.course.name
        names = (self.field, *(one for one in BLOCKS if one != self.field))
        self.surface = dict(zip(("none", *names[1:]), names, strict=True))  # course colour -> block
        self.colours = ("none", *names[1:])
        rng = np.random.default_rng(self.number)
        self.turn = float(rng.uniform(0.0, 1.0))
        series = {name: readings()[block] for name, block in self.surface.items()}
        self.known = {name: rows[: len(rows) // 2].mean(axis=0) for name, rows in series.items()}

    def _half(self, colour: str, runs: bool) -> list[Floats]:
        """The pieces of 20 readings that palettes (False) or runs (True) are made from: every other one."""
        rows = readings()[self.surface[colour]]
        cut = [rows[i : i + 20] for i in range(0, len(rows) - 19, 20)]
        return [one for i, one in enumerate(cut) if (i + int(self.turn * 2)) % 2 == int(runs)]

    def _classified(self, raw: Floats, rng: np.random.Generator) -> NDArray[np.int64]:
        ideal = np.array(list(self.known.values()))

        def plane(x: Floats) -> Floats:
            total = np.maximum(x.sum(axis=1, keepdims=True), 1.0)
            return np.hstack([x / total, 0.1 * np.log(total)])

        codes = np.argmin(((plane(raw)[:, None] - plane(ideal)[None]) ** 2).sum(axis=2), axis=1)
        false = rng.random(len(codes)) < 0.03
        codes[false] = rng.integers(0, len(self.colours), int(false.sum()))
        return codes

    def still(self, colour: str, other_light: bool = False, again: int = 0) -> SampleTable:
        """A capture: pieces of the block's series, joined; other light: red and blue weigh otherwise, as dusk would do."""
        rng = np.random.default_rng([*self.number, 7, self.colours.index(colour), again])
        pieces = self._half(colour, runs=False)
        picked = rng.permutation(len(pieces))[: self.level.pieces]
        raw = np.vstack([pieces[i] for i in np.sort(picked)])
        if other_light:
            raw = np.round(raw * np.array([1.15, 1.0, 0.8]))
        t_ms = np.arange(len(raw)) * 20.0
        codes = self._classified(raw, rng)
        return table_of(t_ms, raw, refl=None, codes=codes, colours=self.colours, dist=np.zeros(len(raw)), notes=[])

    def drive(self, seed: int) -> tuple[SampleTable, Truth]:
        """One run."""
        rng = np.random.default_rng([*self.number, 8, seed])
        truth = draw_truth(self.course, rng)
        motion = replace(self.level.motion, loop_ms=(14.0, 20.0))
        leg: Leg = drive_along(self.course, motion, rng).legs[0]
        raw = self._run_of("none", len(leg.place), rng)
        for slot, colour in zip(self.course.slots, truth, strict=True):
            low, high = (slot.at_cm or 0.0) - 1.6, (slot.at_cm or 0.0) + 1.6
            cover = np.clip((leg.place - low) / 0.5 + 0.5, 0.0, 1.0) * np.clip((high - leg.place) / 0.5 + 0.5, 0.0, 1.0)
            rows = np.flatnonzero(cover > 0.0)
            raw[rows] += cover[rows, None] * (self._run_of(colour, len(rows), rng) - raw[rows])
        raw = np.round(raw)
        codes = self._classified(raw, rng)
        table = table_of(leg.t_ms, raw, refl=None, codes=codes, colours=self.colours, dist=leg.told, notes=[])
        return table, truth

    def _run_of(self, colour: str, count: int, rng: np.random.Generator) -> Floats:
        """``count`` readings of a block in the order they were taken, on from some place of its series."""
        pieces = self._half(colour, runs=True)
        if colour == "none" and self.level.steady:
            middle = float(np.median([one.mean() for one in pieces]))
            pieces = sorted(pieces, key=lambda one: abs(float(one.mean()) - middle) + float(one.std(axis=0).mean()))[:4]
        rows = np.vstack(np.roll(np.array(pieces), -int(rng.integers(len(pieces))), axis=0))[int(rng.integers(0, 8)) :]
        return np.resize(rows, (count, 3)) if count > len(rows) else rows[:count].copy()
