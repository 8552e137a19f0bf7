"""A spectral robot: measured surfaces under measured lamps, seen through measured camera sensitivities.

What it drives over is painted in strips 0.2 mm fine: field, markers with cut white edges, printed lines, torn patches,
highlights; a round spot with a wide faint halo is drawn over it, integrated while the robot moves. Light falls with the
height, room light comes on top, noise has a share common to the channels and lasts from reading to reading. How strong
each effect is is from memory, within the figures of ../shared/real/README.md. Everything it makes is simulated.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from telemetry.course import Truth
from telemetry.sample import SampleTable
from telemetry.sources.synthetic.truth import draw_truth

from .layouts import LAYOUTS, NAMES, Floats, Motion, course_named, drive_along, lagged, settled, smooth, table_of
from .spectra import CAMERAS, DAY, HALL_LAMPS, OWN_LAMPS, Eye, apart, measured

STEP_CM = 0.02
AHEAD_CM = 8.0


@dataclass(frozen=True)
class Level:
    """How hard it is; chances are a marker's, pairs ranges."""

    room: tuple[float, float] = (0.0, 0.03)  # share of room light, of what the sensor's own lamp gives
    day: bool = False
    flicker: float = 0.0
    clouds: float = 0.0
    height: tuple[float, float] = (0.97, 1.03)  # of the calibrated one
    ripple: float = 0.01
    noise: float = 0.004  # of full scale
    common: float = 0.01  # of the signal, all channels alike
    single: float = 0.006  # of the signal, each channel
    lasts: float = 0.5
    edge: float = 0.0
    line: float = 0.0
    torn: float = 0.0
    gloss: float = 0.0
    worn: tuple[float, float] = (0.0, 0.03)
    sensor_ms: tuple[float, float] = (0.0, 0.0)  # its own period; 0: a new measurement each loop
    twins: bool = False
    coded_field: float = 0.4
    false_codes: float = 0.03
    motion: Motion = field(default_factory=Motion)


_HALL = Level(room=(0.03, 0.15), flicker=0.3, clouds=0.01, ripple=0.02, worn=(0.0, 0.1))
LEVELS: dict[str, Level] = {
    "lab": Level(),
    "daylight": replace(_HALL, room=(0.1, 0.4), day=True, flicker=0.0, clouds=0.04),
    "hall": _HALL,
    "gloss": replace(_HALL, gloss=0.6),
    "edges": replace(_HALL, edge=0.8),
    "line": replace(_HALL, line=0.5),
    "torn": replace(_HALL, torn=0.5),
    "twins": replace(_HALL, twins=True),
    "far": replace(_HALL, height=(1.8, 3.5), ripple=0.03),
    "slow": replace(_HALL, sensor_ms=(14.0, 24.0), motion=Motion(speed=(25.0, 45.0))),
    "slipping": replace(_HALL, motion=Motion(scale=0.1, start_cm=4.0, slip_cm=0.15, speed=(20.0, 40.0), lost=0.01)),
    "nasty": replace(
        _HALL, room=(0.05, 0.3), height=(0.8, 1.8), ripple=0.04, common=0.02, single=0.01, lasts=0.7, edge=0.3, line=0.2,
        torn=0.2, gloss=0.2, worn=(0.0, 0.25), sensor_ms=(10.0, 20.0), false_codes=0.06,
        motion=Motion(scale=0.05, start_cm=2.0, slip_cm=0.08, speed=(25.0, 45.0), lost=0.02),
    ),
    # up to three times the calibrated height, and at least six samples over the narrowest marker
    "high": replace(_HALL, height=(1.0, 3.0), motion=Motion(speed=(12.0, 28.0))),
}  # fmt: skip


class Spectral:
    """One set-up of robot, field, lamp and layout at one level. Deterministic in (setup, level, seed)."""

    def __init__(self, setup: int, level: str) -> None:
        self.level, self.number = LEVELS[level], [3301, setup, list(LEVELS).index(level)]
        rng = np.random.default_rng([3300, setup])
        self.layout = list(LAYOUTS)[setup % len(LAYOUTS)]
        self.course = course_named(self.layout)
        rng.integers(2)  # a draw that once chose the camera: the set-ups stay what they were
        self.eye = Eye(CAMERAS[0], OWN_LAMPS[int(rng.integers(len(OWN_LAMPS)))])
        self.set = tuple(measured().surfaces)[setup % 3]
        self._surfaces(rng)
        self.full = float(rng.choice([255.0, 1023.0, 4095.0, 65535.0]))
        self.black = self.full * rng.uniform(0.0, 0.01)
        self.gain = self.full * rng.uniform(0.6, 0.85) * rng.uniform(0.6, 1.0, 3)
        self.spot_cm, self.halo = float(rng.uniform(0.5, 1.4)), float(rng.uniform(0.01, 0.04))
        self.falls = float(rng.uniform(1.6, 2.0))
        self.has_refl = bool(rng.integers(2))
        self.hold = int(rng.integers(1, 4))
        lit = np.random.default_rng(self.number)
        self.light = str(lit.choice(DAY if self.level.day else HALL_LAMPS))
        self.room = float(lit.uniform(*self.level.room))
        others = [name for name in (*DAY, *HALL_LAMPS) if name != self.light]
        self.other_light, self.other_room = str(lit.choice(others)), float(lit.uniform(0.15, 0.4))
        self._codes(lit)

    def _surfaces(self, rng: np.random.Generator) -> None:
        """Six colours that can be told apart and a field that is none of them."""
        pool = measured().surfaces[self.set]
        chart = measured().surfaces["chart"]
        self.white, self.ink = 0.9 * np.ones(pool.shape[1]), 0.04 * np.ones(pool.shape[1])
        greys = [chart[i] for i in (18, 19, 21, 22, 23)]  # white to black
        self.field = greys[int(rng.integers(5))] if rng.integers(3) else chart[int(rng.choice([0, 1, 6]))]
        looks = self.eye.sees(np.vstack([pool, self.field[None]]))
        gaps = apart(looks) + 9.0 * np.eye(len(looks))
        tries = [rng.permutation(len(pool))[: 3 if self.level.twins else 6] for _ in range(300)]
        worth = [gaps[np.ix_([*one, len(pool)], [*one, len(pool)])].min() for one in tries]
        enough = [i for i, value in enumerate(worth) if value > 0.09]
        chosen = tries[enough[0]] if enough else tries[int(np.argmax(worth))]
        picked = [pool[i] for i in chosen]
        if self.level.twins:  # two lightnesses of each hue
            picked = [one * share for one in picked for share in (1.0, 0.5)]
        self.surface = {"none": self.field} | dict(zip(NAMES, picked, strict=True))

    def _codes(self, rng: np.random.Generator) -> None:
        """The sensor's own names: nearest of what its maker knew. An empty field is 'none', or has a name of its own."""
        level = float(self.eye.sees(self.field).mean())
        extra = "black" if level < 0.12 else "white" if level > 0.5 else "grey"
        self.colours = ("none", *NAMES, extra)
        kind = rng.random()
        if kind >= self.level.coded_field:
            self.field_code = 0
        else:
            self.field_code = len(NAMES) + 1 if kind > 0.15 * self.level.coded_field else int(rng.integers(1, 7))
        self.known = np.array([self.eye.sees(one) for one in self.surface.values()]) * rng.normal(1.0, 0.03, (7, 3))

    def _classified(self, raw: Floats, rng: np.random.Generator) -> NDArray[np.int64]:
        light = (raw - self.black) / self.gain

        def plane(x: Floats) -> Floats:
            total = np.maximum(x.sum(axis=1, keepdims=True), 0.02)
            return np.hstack([x / total, 0.15 * np.log(total)])

        away = ((plane(light)[:, None] - plane(self.known)[None]) ** 2).sum(axis=2)
        codes = np.argmin(away, axis=1)
        codes[codes == 0] = self.field_code
        false = rng.random(len(codes)) < self.level.false_codes
        codes[false] = rng.integers(0, len(self.colours), int(false.sum()))
        return codes

    def _counts(self, light: Floats, rng: np.random.Generator) -> Floats:
        """(n, 3) of light relative to white: with noise, rounded, clipped."""
        lasts = self.level.lasts
        signal = self.gain * light
        gain = (
            1.0
            + self.level.common * lagged(rng, (len(light), 1), lasts)
            + self.level.single * lagged(rng, light.shape, lasts)
        )
        shot = 0.004 * np.sqrt(self.full * np.maximum(signal, 0.0)) * rng.normal(size=light.shape)
        raw = self.black + signal * gain + shot + self.level.noise * self.full * rng.normal(size=light.shape)
        return np.asarray(np.clip(np.round(raw), 0.0, self.full))

    def _refl(self, raw: Floats) -> Floats | None:
        if not self.has_refl:
            return None
        return np.asarray(np.clip(np.round(100.0 * ((raw - self.black) / self.gain).mean(axis=1)), 0.0, 100.0))

    def still(self, colour: str, other_light: bool = False, again: int = 0) -> SampleTable:
        """Held over a colour by hand: the height is not quite the same each time."""
        rng = np.random.default_rng([*self.number, 7, list(self.surface).index(colour), int(other_light), again])
        light, room = (self.other_light, self.other_room) if other_light else (self.light, self.room)
        surface, hand = self.surface[colour], 1.0 + rng.normal(0.0, 0.02)
        own = self.eye.sees((1.0 - self.halo) * surface + self.halo * self.field) * hand
        seen = np.tile(own + room * self.eye.sees(surface, light), (150, 1))
        raw = self._counts(seen, rng)
        codes = settled(self._classified(raw, rng), np.ones(150, bool), self.hold)
        t_ms = np.arange(150) * 10.0
        return table_of(
            t_ms, raw, refl=self._refl(raw), codes=codes, colours=self.colours, dist=np.zeros(150), notes=[], full=self.full,
            black=self.black,
        )  # fmt: skip

    def drive(self, seed: int) -> tuple[SampleTable, Truth]:
        """One run."""
        rng = np.random.default_rng([*self.number, 8, seed])
        level, truth = self.level, draw_truth(self.course, rng)
        way = drive_along(self.course, level.motion, rng)
        height, worn, phase = rng.uniform(*level.height), rng.uniform(*level.worn), rng.uniform(0.0, 6.0)
        period = rng.uniform(*level.sensor_ms)
        seen, fresh = [], []
        for leg in way.legs:
            first = np.arange(len(leg.t_ms)) if period <= 0.0 else _held(leg.t_ms, period, rng)
            own, room = self._strip(leg.number, float(leg.place[-1]), truth, worn, height, rng)
            t, place = leg.t_ms[first], leg.place[first]
            blur = leg.speed * max(period, 5.0) / 1000.0 * 0.8
            ripple = np.clip(height * (1.0 + level.ripple * smooth(rng, place, 6.0, 40.0)), 0.4, 8.0)
            lamp = ripple**-self.falls
            lit = self.room * (1.0 + level.flicker * np.sin(2 * np.pi * 0.1 * t + phase))  # 100 Hz
            lit = lit * np.clip(1.0 + level.clouds * smooth(rng, t, 500.0, 4000.0), 0.0, 2.0)
            light = _over(own, place, blur) * lamp[:, None] + _over(room, place, blur) * lit[:, None]
            seen.append(light)
            fresh.append(np.concatenate([[True], np.diff(first) > 0]))
        new = np.concatenate(fresh)
        last = np.maximum.accumulate(np.where(new, np.arange(len(new)), 0))
        raw = self._counts(np.vstack(seen), rng)[last]
        codes = settled(self._classified(raw, rng)[last], new, self.hold)
        table = table_of(
            np.concatenate([leg.t_ms for leg in way.legs]), raw, refl=self._refl(raw), codes=codes, colours=self.colours,
            dist=np.concatenate([leg.told for leg in way.legs]), notes=way.notes,
            lost=rng.random(len(raw)) < level.motion.lost, full=self.full, black=self.black,
        )  # fmt: skip
        return table, truth

    def _strip(
        self, number: int, far_cm: float, truth: Truth, worn: float, height: float, rng: np.random.Generator
    ) -> tuple[Floats, Floats]:
        """What one leg looks like under the own lamp and under the room's, each (cells, 3), the spot drawn over it."""
        level = self.level
        cells = int((far_cm + 2 * AHEAD_CM) / STEP_CM)
        paint = np.zeros(cells, dtype=np.int64)
        kinds: list[Floats] = [self.field]
        shine = np.zeros(cells)

        def strip(low: float, high: float, surface: Floats) -> None:
            kinds.append(surface)
            paint[max(int((low + AHEAD_CM) / STEP_CM), 0) : max(int((high + AHEAD_CM) / STEP_CM), 0)] = len(kinds) - 1

        for i, slot in enumerate(self.course.slots):
            if slot.leg != number or slot.unseen or truth[i] not in self.surface:
                continue
            at, width = (slot.at_cm or 0.0) + rng.normal(0.0, 0.1), slot.width_cm or 3.0
            low, high = at - width / 2, at + width / 2
            strip(low, high, (1.0 - worn) * self.surface[truth[i]] + worn * self.field)
            if rng.random() < level.torn:
                part = width * rng.uniform(0.15, 0.4)
                begin = rng.uniform(low, high - part)
                strip(begin, begin + part, self.white * 0.8 if rng.integers(2) else self.field)
            if rng.random() < level.edge:
                strip(low - rng.uniform(0.08, 0.2), low, self.white)
                strip(high, high + rng.uniform(0.08, 0.2), self.white)
            if rng.random() < level.line:
                wide, gap = rng.uniform(0.2, 0.7), rng.uniform(0.0, 1.2)
                begin = high + gap if rng.integers(2) else low - gap - wide
                strip(begin, begin + wide, self.white if rng.integers(2) else self.ink)
            if rng.random() < level.gloss:
                wide = rng.uniform(0.2, 0.8)
                begin = rng.uniform(low, high - wide)
                shine[int((begin + AHEAD_CM) / STEP_CM) : int((begin + wide + AHEAD_CM) / STEP_CM)] = rng.uniform(0.15, 0.6)
        for decoy in self.course.decoys:
            if decoy.leg == number:
                at, half = decoy.at_cm or 0.0, (decoy.width_cm or 1.5) / 2
                strip(at - half, at + half, self.surface[str(rng.choice(NAMES))])
        surfaces = np.array(kinds)
        own = self.eye.sees(surfaces)[paint] + shine[:, None]
        room = self.eye.sees(surfaces, self.light)[paint] + 0.3 * shine[:, None]
        halo = min(self.halo * height, 0.15)
        tight, wide_spot = _disc(self.spot_cm * height), _disc(4.0 * self.spot_cm * height)
        return (1.0 - halo) * _blurred(own, tight) + halo * _blurred(own, wide_spot), _blurred(room, tight)


def _held(t_ms: Floats, period_ms: float, rng: np.random.Generator) -> NDArray[np.int64]:
    """For each row the row at which the measurement that it repeats was finished."""
    turn = np.floor((t_ms - t_ms[0] + rng.uniform(0.0, period_ms)) / period_ms)
    return np.asarray(np.searchsorted(turn, turn))


def _disc(width_cm: float) -> Floats:
    """How much of an evenly lit round spot lies in each cell across it."""
    x = np.arange(-width_cm / 2, width_cm / 2 + STEP_CM / 2, STEP_CM)
    chord = np.sqrt(np.maximum((width_cm / 2) ** 2 - x**2, 1e-6))
    return np.asarray(chord / chord.sum())


def _blurred(strip: Floats, spot: Floats) -> Floats:
    from scipy.ndimage import convolve1d

    return np.asarray(convolve1d(strip, spot, axis=0, mode="nearest"))


def _over(strip: Floats, place: Floats, blur_cm: float) -> Floats:
    """Mean of a strip over the ``blur_cm`` that were driven while a measurement was taken: exact, from its integral."""
    total = np.vstack([np.zeros(3), np.cumsum(strip, axis=0)])
    x = np.arange(len(total)) * STEP_CM - AHEAD_CM
    low, high = place - blur_cm, place
    return np.column_stack(
        [(np.interp(high, x, total[:, c]) - np.interp(low, x, total[:, c])) * STEP_CM / blur_cm for c in range(3)]
    )
