"""A robot of the tests' own, with another physics than the built-in one, so that nothing is tuned to one simulator only.

Linear mixing under a round spot, light that falls with height, worn colours, additive ambient light or ambient light that
falls onto the surface, slip, a late start, drop-outs, three layouts, four palettes. All values from memory: plausible, not
measured. Everything it makes is simulated.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from telemetry.course import Course, Truth, parse_course
from telemetry.sample import Columns, Note, SampleTable

Array = NDArray[np.float64]

ORCHARD = """
[course]
name = "row and yard"
[[leg]]
name = "lane"
[[leg]]
name = "yard"
starts = "note:gate open"
[[slot]]
name = "tag 1"
leg = "lane"
at_cm = 9.0
width_cm = 2.4
group = "tags"
[[slot]]
name = "tag 2"
leg = "lane"
at_cm = 21.5
width_cm = 2.4
group = "tags"
[[slot]]
name = "tag 3"
leg = "lane"
at_cm = 30.0
width_cm = 2.4
group = "tags"
[[slot]]
name = "crate 1"
leg = "yard"
at_cm = 14.0
width_cm = 5.0
group = "crates"
[[slot]]
name = "crate 2"
leg = "yard"
at_cm = 22.0
width_cm = 5.0
group = "crates"
[[slot]]
name = "crate 3"
leg = "yard"
at_cm = 30.0
width_cm = 5.0
group = "crates"
[[slot]]
name = "crate 4"
leg = "yard"
at_cm = 46.0
width_cm = 5.0
group = "crates"
[[slot]]
name = "crate 5"
leg = "yard"
group = "crates"
unseen = true
[[group]]
name = "tags"
distinct = ["C0", "C1", "C2", "C3", "C4"]
[[group]]
name = "crates"
one_of_each = ["C0", "C1", "C2", "C3", "C5"]
[[decoy]]
name = "hose"
leg = "yard"
at_cm = 38.0
width_cm = 1.5
"""

BEADS = """
[course]
name = "beads"
[[slot]]
name = "bead 1"
at_cm = 12.0
width_cm = 3.2
colours = ["C0", "C1", "C2", "C3"]
""" + "".join(
    f'[[slot]]\nname = "bead {i + 2}"\nat_cm = {at}\nwidth_cm = 3.2\ncolours = ["C0", "C1", "C2", "C3"]\n'
    for i, at in enumerate((20.0, 25.0, 37.0, 46.0, 58.0))
)

SHELF = (
    """
[course]
name = "shelf"
"""
    + "".join(
        f'[[slot]]\nname = "box {i + 1}"\nat_cm = {at}\nwidth_cm = 4.0\ngroup = "boxes"\n'
        for i, at in enumerate((10.0, 16.5, 23.0, 29.5, 36.0))
    )
    + """
[[slot]]
name = "bonus"
at_cm = 48.0
width_cm = 4.0
colours = ["C0", "C1", "C2", "C3", "C4"]
[[group]]
name = "boxes"
counts = {C0 = 2, C1 = 2, C3 = 1}
"""
)

LAYOUTS = {"row": ORCHARD, "beads": BEADS, "shelf": SHELF}

PALETTES: dict[str, dict[str, tuple[float, float, float]]] = {
    "matt": {
        "none": (0.42, 0.36, 0.29), "c0": (0.52, 0.10, 0.08), "c1": (0.74, 0.34, 0.08), "c2": (0.12, 0.36, 0.12),
        "c3": (0.10, 0.20, 0.45), "c4": (0.86, 0.86, 0.84), "c5": (0.80, 0.40, 0.52),
    },
    "dark mat": {
        "none": (0.07, 0.07, 0.08), "c0": (0.60, 0.09, 0.10), "c1": (0.78, 0.62, 0.10), "c2": (0.20, 0.48, 0.16),
        "c3": (0.16, 0.34, 0.62), "c4": (0.82, 0.83, 0.82), "c5": (0.40, 0.16, 0.44),
    },
    "white table": {
        "none": (0.84, 0.85, 0.83), "c0": (0.50, 0.07, 0.07), "c1": (0.80, 0.66, 0.09), "c2": (0.08, 0.30, 0.14),
        "c3": (0.06, 0.13, 0.42), "c4": (0.04, 0.04, 0.05), "c5": (0.30, 0.15, 0.09),
    },
    "earth": {
        "none": (0.20, 0.20, 0.19), "c0": (0.45, 0.13, 0.07), "c1": (0.70, 0.30, 0.07), "c2": (0.17, 0.42, 0.11),
        "c3": (0.22, 0.46, 0.72), "c4": (0.84, 0.84, 0.80), "c5": (0.78, 0.34, 0.48),
    },
}  # fmt: skip
NAMES = ("rust", "orange", "leaf", "sky", "white", "pink")


@dataclass(frozen=True)
class Level:
    """How hard it is. Each pair is the range a run draws from."""

    name: str
    worn: tuple[float, float] = (0.0, 0.05)
    ambient: tuple[float, float] = (0.0, 0.03)  # share of the signal over a middling surface
    height: tuple[float, float] = (0.97, 1.03)  # gain against the calibration
    scale: float = 0.01  # distance wrong by up to
    start_cm: float = 0.3
    slip_cm: float = 0.05  # random walk of the distance, cm per sqrt(cm)
    speed: tuple[float, float] = (15.0, 25.0)
    rate: tuple[float, float] = (80.0, 120.0)
    noise: float = 0.006  # share of full scale
    lost: float = 0.0
    blank: float = 0.0
    bounce: float = 0.0


_FAST: dict[str, Any] = {"speed": (25.0, 45.0), "rate": (60.0, 100.0), "noise": 0.008}
LEVELS = {
    "practice": Level("practice"),
    "venue": Level(
        "venue", worn=(0.0, 0.3), ambient=(0.05, 0.25), height=(0.8, 1.1), scale=0.03, start_cm=1.0, slip_cm=0.08,
        lost=0.01, blank=0.01, bounce=0.03, **_FAST,
    ),
    "slipping": Level(
        "slipping", worn=(0.0, 0.15), ambient=(0.0, 0.1), height=(0.9, 1.1), scale=0.12, start_cm=5.0, slip_cm=0.2,
        lost=0.01, bounce=0.02, **_FAST,
    ),
    "extreme": Level(
        "extreme", worn=(0.1, 0.3), ambient=(0.1, 0.25), height=(0.75, 1.1), scale=0.12, start_cm=5.0, slip_cm=0.15,
        speed=(70.0, 90.0), rate=(40.0, 50.0), noise=0.012, lost=0.02, blank=0.01, bounce=0.04,
    ),
}  # fmt: skip


@dataclass
class Drive:
    """One simulated run: its table, what stood there, and what the robot was like."""

    table: SampleTable
    truth: Truth
    course: Course
    told: dict[str, float] = field(default_factory=dict)


def course_text(layout: str) -> str:
    """The TOML of one of LAYOUTS."""
    text = LAYOUTS[layout]
    for i, name in enumerate(NAMES):
        text = text.replace(f"C{i}", name)
    return text


class Bench:
    """One sensor with one palette of surfaces: makes still captures and runs. Deterministic in its seed."""

    def __init__(self, seed: int, palette: str | None = None, layout: str | None = None) -> None:
        rng = np.random.default_rng([911, seed])
        self.palette = palette or list(PALETTES)[int(rng.integers(len(PALETTES)))]
        self.layout = layout or list(LAYOUTS)[int(rng.integers(len(LAYOUTS)))]
        surfaces = PALETTES[self.palette]
        self.surface = {"none": np.array(surfaces["none"])} | {n: np.array(surfaces[f"c{i}"]) for i, n in enumerate(NAMES)}
        self.full = float(rng.choice([255.0, 1023.0, 4095.0]))
        self.gain = self.full * rng.uniform(0.55, 0.85) * rng.uniform(0.7, 1.0, 3)
        self.black = self.full * rng.uniform(0.0, 0.015)
        self.spot_cm = float(rng.uniform(0.6, 1.6))
        self.soft = bool(rng.integers(2))
        self.shines = bool(rng.integers(2))  # ambient light falls onto the surface, else straight into the sensor
        self.wear_to_field = bool(rng.integers(2))
        self.rng = rng
        self.course = parse_course(course_text(self.layout))

    def _lens(self, inside: Array) -> Array:
        """Share of the spot covered, from how far (in spot radii, -1..1) its centre is inside an edge."""
        z = np.clip(inside, -1.0, 1.0)
        if self.soft:
            return np.asarray(0.5 + 0.75 * z - 0.25 * z**3)
        return np.asarray(0.5 + (z * np.sqrt(1.0 - z**2) + np.arcsin(z)) / np.pi)

    def _send(self, light: Array, noise: float, rng: np.random.Generator) -> Array:
        raw = self.black + light + rng.normal(0.0, 1.0, light.shape) * (noise * self.full + 0.015 * np.abs(light))
        return np.asarray(np.clip(np.round(raw), 0, self.full))

    def _refl(self, raw: Array) -> Array:
        return np.asarray(np.clip(np.round(100.0 * (raw[:, 0] - self.black) / self.gain[0]), 0, 100))

    def _codes(self, raw: Array) -> NDArray[np.int64]:
        """The on-sensor code: nearest of rounded-off colours by share and level, so mixtures at edges get false names."""
        names = ("none", *NAMES)
        ideal = np.array([self.gain * self.surface[n] + self.black for n in names])

        def look(x: Array) -> Array:
            total = x.sum(axis=1, keepdims=True) + 1e-9
            return np.hstack([x / total, 0.35 * np.sqrt(total / self.full / 3.0)])

        away = ((look(raw)[:, None] - look(ideal)[None]) ** 2).sum(axis=2)
        return np.asarray(np.argmin(away, axis=1), dtype=np.int64)

    def still(self, colour: str, seed: int = 0, rows: int = 200, noise: float = 0.006) -> SampleTable:
        """The sensor held still over ``colour``: what a calibration takes."""
        rng = np.random.default_rng([912, seed, sorted(self.surface).index(colour)])
        raw = self._send(np.tile(self.gain * self.surface[colour], (rows, 1)), noise, rng)
        return self._table(np.arange(rows) * 10.0, raw, np.full(rows, 0.0), [])

    def _table(self, t_ms: Array, raw: Array, dist: Array, notes: list[Note]) -> SampleTable:
        t_us = np.round(t_ms * 1000).astype(np.int64)
        columns: Columns = {
            "t_us": t_us, "arrival_us": t_us, "boot": np.zeros(len(t_us), np.int64),
            "colour": self._codes(raw).astype(np.int16),
            "red": raw[:, 0], "green": raw[:, 1], "blue": raw[:, 2], "refl": self._refl(raw), "dist": np.round(dist, 1),
        }  # fmt: skip
        return SampleTable(columns=columns, rows=len(t_us), colours=("none", *NAMES), notes=notes)

    def truth(self, rng: np.random.Generator) -> Truth:
        """A truth that the course allows."""
        out: list[str] = [""] * len(self.course.slots)
        for index, group in enumerate(self.course.groups):
            members = [i for i, slot in enumerate(self.course.slots) if slot.group == index]
            counts = group.counts or (1,) * len(group.colours)
            pool = [colour for colour, count in zip(group.colours, counts, strict=True) for _ in range(count)]
            if group.rule.value == "colours":
                picked = [pool[int(rng.integers(len(pool)))] for _ in members]
            else:
                picked = [pool[i] for i in rng.permutation(len(pool))[: len(members)]]
            for i, colour in zip(members, picked, strict=True):
                out[i] = colour
        return tuple(out)

    def drive(self, level: Level, seed: int) -> Drive:
        """One run at ``level``."""
        rng = np.random.default_rng([913, seed])
        truth = self.truth(rng)
        worn = rng.uniform(*level.worn)
        tint = rng.dirichlet(np.ones(3) * 6.0) * 3.0
        ambient = rng.uniform(*level.ambient)
        gain = rng.uniform(*level.height)
        speed, rate = rng.uniform(*level.speed), rng.uniform(*level.rate)
        light, dist, time, notes = [], [], [], []
        clock, rows = 0.0, 0
        base = 0.0
        for leg_index, leg in enumerate(self.course.legs):
            slots = [(s, truth[i]) for i, s in enumerate(self.course.slots) if s.leg == leg_index and not s.unseen]
            marks = [(s.at_cm or 0.0, s.width_cm or 3.0, c) for s, c in slots]
            far = max(at for at, _, _ in marks) + 14.0
            marks += [
                (d.at_cm or 0.0, d.width_cm or 1.5, str(rng.choice(NAMES))) for d in self.course.decoys if d.leg == leg_index
            ]
            start = rng.uniform(-level.start_cm, level.start_cm)  # where the robot really stands when the leg begins
            count = int((far - start) / speed * rate) + 2
            gone = np.arange(count) * speed / rate
            place = start + gone
            spot = self.surface["none"] * np.ones((count, 3)) * (1.0 + 0.02 * np.sin(place / 7.0))[:, None]
            for at, width, colour in marks:
                own = self.surface[colour]
                to = self.surface["none"] if self.wear_to_field else np.full(3, own.mean())
                own = (1.0 - worn) * own + worn * to
                radius = self.spot_cm / 2
                cover = self._lens((place - at + width / 2) / radius) - self._lens((place - at - width / 2) / radius)
                spot = spot + cover[:, None] * (own - spot)
            bounce = gain * (1.0 + level.bounce * np.sin(place * rng.uniform(0.5, 2.0) + rng.uniform(0, 6)))
            own_light = self.gain * bounce[:, None]
            middling = 0.35 * self.gain.mean() if not self.shines else self.gain
            extra = ambient * tint * (middling if not self.shines else middling * spot)
            light.append(own_light * spot + extra)
            if leg_index:
                notes.append(Note(rows, round(clock * 1000), round(clock * 1000), leg.starts_note))
            factor = 1.0 + rng.uniform(-level.scale, level.scale)
            walk = np.cumsum(rng.normal(0, level.slip_cm * np.sqrt(speed / rate), count))
            gone = base + gone * factor + walk
            dist.append(gone)
            time.append(clock + np.arange(count) * 1000.0 / rate)
            clock = float(time[-1][-1]) + 400.0
            base = float(gone[-1])
            rows += count
        raw = self._send(np.vstack(light), level.noise, rng)
        keep = rng.random(len(raw)) >= level.lost
        blank = rng.random(len(raw)) < level.blank
        table = self._table(np.concatenate(time), raw, np.concatenate(dist), notes)
        for name in ("red", "green", "blue", "refl"):
            table.columns[name] = np.where(blank, np.nan, table.columns[name])
        table.columns["colour"] = np.where(blank, -1, table.columns["colour"]).astype(np.int16)
        kept = np.concatenate([[0], np.cumsum(keep)])
        table.columns = {name: values[keep] for name, values in table.columns.items()}
        table.rows = int(keep.sum())
        table.notes = [Note(int(kept[n.row]), n.t_us, n.arrival_us, n.text) for n in notes]
        return Drive(
            table, truth, self.course, {"worn": worn, "ambient": ambient, "gain": gain, "speed": speed, "rate": rate}
        )


def stream_text(table: SampleTable) -> str:
    """The table as the line stream of the formats: what a robot would have sent."""
    lines = ["#n,t/ms,colour,refl/%,red,green,blue,dist/cm"]
    notes = {note.row: note for note in table.notes}
    c = table.columns

    def show(value: float, digits: int = 0) -> str:
        return "" if not np.isfinite(value) else f"{value:.{digits}f}"

    for i in range(table.rows):
        if i in notes:
            lines.append(f"!{notes[i].t_us // 1000},{notes[i].text}")
        code = int(c["colour"][i])
        name = "" if code < 0 else table.colours[code]
        raw = ",".join(show(float(c[q][i])) for q in ("refl", "red", "green", "blue"))
        lines.append(f"{i},{int(c['t_us'][i]) // 1000},{name},{raw},{show(float(c['dist'][i]), 1)}")
    return "\n".join(lines) + "\n"
