"""A robot that lights red, green and blue in turn before one photocell without a filter; no certainty is fitted on it.

The channels of one sample are taken at three times, thus over three places, and each lamp's spot lies a little aside; room
light reaches all three alike, in full or as what a dark reading taken before them leaves; the photocell bends (less and less
for more light) and ends at 255; the robot speeds up, slows down and stands still; its distance comes in ticks of a wheel.
Spectra of surfaces, lamps and photocell are smooth curves of our own, from memory. Simulated.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from telemetry.course import Course, Truth, parse_course
from telemetry.sample import SampleTable
from telemetry.sources.synthetic.truth import draw_truth

from .layouts import NAMES, Floats, Motion, lagged, settled, smooth, table_of
from .spectra import apart

STEP_CM, AHEAD_CM, TICK_MS = 0.02, 6.0, 1.0
WAVES = np.arange(400.0, 701.0, 5.0)  # nm
CELL = WAVES / 700.0  # of silicon: more for red
LAMPS = (
    np.array([np.exp(-(((WAVES - at) / wide) ** 2)) for at, wide in ((625.0, 11.0), (525.0, 19.0), (465.0, 13.0))]) * CELL
)
LAMPS /= LAMPS.sum(axis=1, keepdims=True)
_ANY = "colours = [" + ", ".join(f'"{name}"' for name in NAMES) + "]"
_ROWS: dict[str, tuple[tuple[float, ...], float, str]] = {
    "side by side": ((10.0, 12.5, 15.0, 17.5, 20.0), 2.5, _ANY),
    "pairs": ((9.0, 11.4, 21.0, 23.4, 34.0, 36.4), 2.4, _ANY),
    "sticks": ((8.0, 14.0, 19.0, 28.0, 33.5), 1.8, 'group = "all"'),
}


@cache
def course_of(layout: str, gaps: bool = False) -> Course:
    """One of the rows; that of 'sticks' names each colour once at the most. ``gaps``: places of the others may be empty."""
    places, width_cm, rule = _ROWS[layout]
    if gaps and "group" not in rule:
        rule += "\nempty_ok = true"
    slots = "".join(
        f'[[slot]]\nname = "peg {i + 1}"\nat_cm = {at}\nwidth_cm = {width_cm}\n{rule}\n' for i, at in enumerate(places)
    )
    group = f'[[group]]\nname = "all"\n{_ANY.replace("colours", "distinct")}\n' if "group" in rule else ""
    return parse_course(f'[course]\nname = "{layout}"\n{slots}{group}')


@dataclass(frozen=True)
class Level:
    """How hard it is; pairs are ranges."""

    room: tuple[float, float] = (0.0, 0.02)  # of what the sensor's own lamp gives over white
    flicker: float = 0.0
    height: tuple[float, float] = (0.97, 1.03)  # of the calibrated one
    tilt: float = 0.02  # how much the height changes from the begin of a run to its end
    noise: float = 0.7  # counts of 255
    common: float = 0.01
    cycle_ms: tuple[float, float] = (6.0, 11.0)
    full_at: tuple[float, float] = (1.1, 1.4)  # light, relative to white, at which 255 is reached
    worn: tuple[float, float] = (0.0, 0.05)
    stops: float = 0.0
    pace: float = 0.04
    glint: float = 0.0
    gaps: bool = False
    motion: Motion = field(default_factory=Motion)


_HALL = Level(room=(0.05, 0.25), flicker=0.4, worn=(0.0, 0.12), tilt=0.06)
LEVELS: dict[str, Level] = {
    "bench": Level(),
    "hall": _HALL,
    "stopping": replace(_HALL, stops=0.7, pace=0.25),
    "fringed": replace(_HALL, cycle_ms=(13.0, 22.0), motion=Motion(speed=(22.0, 38.0))),
    "bright": replace(_HALL, full_at=(0.55, 0.8)),
    "glints": replace(_HALL, glint=0.5),
    "far": replace(_HALL, height=(1.6, 2.8)),
    "slipping": replace(_HALL, motion=Motion(scale=0.08, start_cm=3.0, slip_cm=0.12, speed=(20.0, 35.0), lost=0.01)),
    "nasty": replace(
        _HALL, room=(0.1, 0.4), height=(0.8, 1.6), tilt=0.2, noise=1.5, common=0.02, cycle_ms=(10.0, 18.0), worn=(0.0, 0.25),
        stops=0.4, pace=0.2, glint=0.2, full_at=(0.8, 1.2), motion=Motion(scale=0.05, start_cm=1.5, slip_cm=0.08, lost=0.02),
    ),
    "gaps": replace(_HALL, gaps=True),
}  # fmt: skip


def _surface(rng: np.random.Generator) -> Floats:
    """A paint: dark to light or back at one wavelength, or one hump, or two."""
    low, high, at, wide = rng.uniform(0.03, 0.12), rng.uniform(0.35, 0.9), rng.uniform(440.0, 640.0), rng.uniform(15.0, 50.0)
    step = 1.0 / (1.0 + np.exp(-(WAVES - at) / wide))
    shape = (
        step,
        1.0 - step,
        np.exp(-(((WAVES - at) / 2.0 / wide) ** 2)),
        1.0 - np.exp(-(((WAVES - at) / 2.0 / wide) ** 2)),
    )
    return np.asarray(low + (high - low) * shape[int(rng.integers(4))])


class InTurn:
    """One set-up at one level. Deterministic in (setup, level, seed)."""

    def __init__(self, setup: int, level: str) -> None:
        self.level, self.number = LEVELS[level], [6601, setup, list(LEVELS).index(level)]
        rng = np.random.default_rng([6600, setup])
        self.layout = list(_ROWS)[setup % len(_ROWS)]
        self.course = course_of(self.layout, self.level.gaps)
        ground = np.full(len(WAVES), rng.choice([0.06, 0.25, 0.5, 0.85])) * (
            1.0 + rng.uniform(-0.2, 0.2) * (WAVES - 550.0) / 150.0
        )
        pool = np.array([_surface(rng) for _ in range(40)])
        gaps = apart(np.vstack([pool, ground[None]]) @ LAMPS.T) + 9.0 * np.eye(41)
        tries = [rng.permutation(40)[:6] for _ in range(300)]
        worth = [gaps[np.ix_([*one, 40], [*one, 40])].min() for one in tries]
        good = [one for one, value in zip(tries, worth, strict=True) if value > 0.12]
        self.surface = {"none": ground} | dict(
            zip(NAMES, pool[good[0] if good else tries[int(np.argmax(worth))]], strict=True)
        )
        self.colours = ("none", *NAMES)
        self.own = {name: LAMPS @ one for name, one in self.surface.items()}
        self.bend = float(rng.uniform(0.0, 1.5))
        self.black = float(rng.uniform(2.0, 18.0))
        self.weights = rng.uniform(0.75, 1.0, 3)
        self.takes_dark = bool(rng.integers(2))
        self.spot_cm, self.aside_cm = float(rng.uniform(0.4, 0.9)), rng.uniform(-0.12, 0.12, 3)
        self.tick_cm = float(rng.uniform(0.1, 0.35))
        self.hold = int(rng.integers(1, 4))
        lit = np.random.default_rng(self.number)
        self.full_at = float(lit.uniform(*self.level.full_at))
        self.room, self.other_room = float(lit.uniform(*self.level.room)), float(lit.uniform(0.2, 0.5))
        warm, other = lit.uniform(-0.8, 0.8, 2)  # room light: more for red, or for blue
        self.lamp, self.other_lamp = (CELL * (1.0 + turn * (WAVES - 550.0) / 150.0) for turn in (warm, other))
        clean = np.array([self._bent(self.weights * one) for one in self.own.values()])
        self.known = clean * lit.normal(1.0, 0.03, clean.shape)

    def _roomy(self, surface: Floats, other: bool = False) -> float:
        lamp = self.other_lamp if other else self.lamp
        return float((self.other_room if other else self.room) * (surface @ lamp) / lamp.sum())

    def _bent(self, light: Floats) -> Floats:
        """Counts above black of light: straight where ``bend`` is 0."""
        part = light / self.full_at
        bent = part if self.bend < 0.05 else (1.0 - np.exp(-self.bend * part)) / (1.0 - np.exp(-self.bend))
        return np.asarray((255.0 - self.black) * bent)

    def _sent(self, lit: Floats, room: Floats, dark: Floats, rng: np.random.Generator) -> Floats:
        """(n, 3) of own light, and of room light at the same times; ``dark`` (n,): room light at the dark reading."""
        level, shape = self.level, lit.shape
        gain = 1.0 + level.common * lagged(rng, (shape[0], 1), 0.6) + 0.5 * level.common * lagged(rng, shape, 0.3)
        counts = self.black + self._bent(lit * gain + room) + level.noise * rng.normal(size=shape)
        counts = np.clip(np.floor(counts), 0.0, 255.0)
        if self.takes_dark:
            off = np.floor(self.black + self._bent(dark) + level.noise * rng.normal(size=dark.shape))
            counts = np.maximum(counts - np.clip(off, 0.0, 255.0)[:, None], 0.0)
        return np.asarray(counts)

    def _classified(self, sent: Floats, rng: np.random.Generator) -> NDArray[np.int64]:
        """Nearest of what its maker measured, by shares and a little by level."""

        def plane(x: Floats) -> Floats:
            total = np.maximum(x.sum(axis=1, keepdims=True), 6.0)
            return np.hstack([x / total, 0.12 * np.log(total)])

        clear = sent if self.takes_dark else np.maximum(sent - self.black, 0.0)
        codes = np.argmin(((plane(clear)[:, None] - plane(self.known)[None]) ** 2).sum(axis=2), axis=1)
        false = rng.random(len(codes)) < 0.02
        codes[false] = rng.integers(0, len(self.colours), int(false.sum()))
        return np.asarray(codes)

    def still(self, colour: str, other_light: bool = False, again: int = 0) -> SampleTable:
        """Held over a colour by hand."""
        rng = np.random.default_rng([*self.number, 7, self.colours.index(colour), int(other_light), again])
        hand, surface = 1.0 + rng.normal(0.0, 0.02), self.surface[colour]
        t_ms = np.arange(150) * 10.0
        hum = 1.0 + self.level.flicker * np.sin(0.2 * np.pi * (t_ms[:, None] + np.arange(4) * 2.5))
        room = self._roomy(surface, other_light) * hum
        sent = self._sent(np.tile(self.weights * self.own[colour] * hand, (150, 1)), room[:, 1:], room[:, 0], rng)
        codes = settled(self._classified(sent, rng), np.ones(150, bool), self.hold)
        return table_of(t_ms, sent, refl=None, codes=codes, colours=self.colours, dist=np.zeros(150), notes=[])

    def drive(self, seed: int) -> tuple[SampleTable, Truth]:
        """One run."""
        rng = np.random.default_rng([*self.number, 8, seed])
        level, truth = self.level, draw_truth(self.course, rng)
        place = self._gone(rng)  # true place, ms by ms
        cycle = rng.uniform(*level.cycle_ms)
        t_ms = np.arange(int(len(place) / cycle) - 2) * cycle
        at = t_ms[:, None] + cycle * np.array([0.1, 0.3, 0.55, 0.8])  # dark, red, green, blue
        where = np.interp(at, np.arange(len(place)), place)
        own, room = self._strip(float(place[-1]), truth, rng.uniform(*level.worn), rng)
        height = rng.uniform(*level.height) * (1.0 + level.tilt * rng.uniform(-1.0, 1.0) * at[:, 1:] / at[-1, 3])
        wide = self.spot_cm * float(height.mean())
        lit = np.column_stack([_under(own[:, c], where[:, c + 1] + self.aside_cm[c], wide) for c in range(3)])
        hum = 1.0 + level.flicker * np.sin(0.2 * np.pi * at + rng.uniform(0.0, 6.0))
        around = np.column_stack([_under(room, where[:, c], 1.5 * wide) for c in range(4)]) * hum
        sent = self._sent(self.weights * lit * height**-1.8, around[:, 1:], around[:, 0], rng)
        codes = settled(self._classified(sent, rng), np.ones(len(sent), bool), self.hold)
        told = where[:, 3] * (1.0 + rng.uniform(-level.motion.scale, level.motion.scale))
        steps = np.maximum(np.diff(where[:, 3], prepend=where[0, 3]), 0.0)
        told = told + np.cumsum(rng.normal(size=len(told)) * level.motion.slip_cm * np.sqrt(steps)) - where[0, 3]
        table = table_of(
            t_ms + cycle, sent, refl=None, codes=codes, colours=self.colours,
            dist=np.floor(told / self.tick_cm) * self.tick_cm,
            notes=[], lost=rng.random(len(sent)) < level.motion.lost,
        )  # fmt: skip
        return table, truth

    def _gone(self, rng: np.random.Generator) -> Floats:
        """Where the sensor is, for each ms, until 8 cm past the last marker."""
        level, far = self.level, max(slot.at_cm or 0.0 for slot in self.course.slots) + 8.0
        speed, start = rng.uniform(*level.motion.speed), rng.uniform(-level.motion.start_cm, level.motion.start_cm)
        stops = [rng.uniform(4.0, far - 4.0) for _ in range(2) if rng.random() < level.stops]
        clock = np.arange(0.0, 3.0 * far / speed * 1000.0, TICK_MS)
        pace = np.maximum(1.0 + level.pace * smooth(rng, clock, 400.0, 2500.0), 0.3)
        gone = start + np.cumsum(pace * speed * np.minimum(clock / 300.0, 1.0)) * TICK_MS / 1000.0
        for stop in sorted(stops):
            row = int(np.searchsorted(gone, stop))
            gone = np.insert(gone, row, np.full(int(rng.uniform(200.0, 900.0)), gone[min(row, len(gone) - 1)]))
        return np.asarray(gone[: int(np.searchsorted(gone, far))])

    def _strip(self, far_cm: float, truth: Truth, worn: float, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """The way under the own lamps (cells, 3) and under the room's (cells,)."""
        cells = int((far_cm + 2 * AHEAD_CM) / STEP_CM)
        waver = 1.0 + 0.03 * smooth(rng, np.arange(cells) * STEP_CM, 3.0, 30.0)
        own = np.tile(self.own["none"], (cells, 1)) * waver[:, None]
        room = np.full(cells, self._roomy(self.surface["none"])) * waver
        for slot, colour in zip(self.course.slots, truth, strict=True):
            if colour not in self.own:
                continue
            at, half = (slot.at_cm or 0.0) + rng.normal(0.0, 0.05), (slot.width_cm or 2.0) / 2
            part = slice(int((at - half + AHEAD_CM) / STEP_CM), int((at + half + AHEAD_CM) / STEP_CM))
            grey = float(self.own[colour].mean())
            own[part] = (1.0 - worn) * self.own[colour] + worn * grey
            room[part] = self._roomy(self.surface[colour])
            if rng.random() < self.level.glint:
                begin, wide = rng.uniform(at - half, at + half - 0.3), rng.uniform(0.15, 0.5)
                shiny = slice(int((begin + AHEAD_CM) / STEP_CM), int((begin + wide + AHEAD_CM) / STEP_CM))
                own[shiny] += rng.uniform(0.15, 0.7)
        return own, room


def _under(strip: Floats, place: Floats, wide_cm: float) -> Floats:
    """What a spot sees whose brightness is a raised cosine ``wide_cm`` wide at half its height."""
    x = np.arange(-wide_cm, wide_cm + STEP_CM / 2, STEP_CM)
    spot = 1.0 + np.cos(np.pi * x / wide_cm)
    seen = np.convolve(np.pad(strip, len(spot) // 2, mode="edge"), spot / spot.sum(), mode="valid")
    return np.asarray(np.interp(place, np.arange(len(seen)) * STEP_CM - AHEAD_CM, seen))
