"""A robot whose sensor regulates its own gain: other equations than the spectral and the evidence tests' robots.

The three channels are narrow bands of their own lamp, one after the other (no spectra: colours are hue, chroma and
lightness); stray light adds a constant; an oblong spot with a bright middle weighs what it covers by its place, not by
area; the electronics follow like a capacitor; gain steps of 1, 4, 16 and 60 with a dead band, each a few per cent off what
the driver divides by; values are the driver's, in coarse steps; codes come from hue sectors. From memory; simulated.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from telemetry.course import Truth
from telemetry.sample import SampleTable
from telemetry.sources.synthetic.truth import draw_truth

from .layouts import LAYOUTS, NAMES, Floats, Leg, Motion, course_named, drive_along, lagged, settled, smooth, table_of

GAINS = (1.0, 4.0, 16.0, 60.0)


@dataclass(frozen=True)
class Level:
    """How hard it is; pairs are ranges."""

    stray: tuple[float, float] = (0.0, 0.02)
    height: tuple[float, float] = (0.97, 1.03)
    noise: float = 0.006
    lag_ms: float = 4.0
    rim: float = 0.0
    line: float = 0.0
    patch: float = 0.0
    worn: tuple[float, float] = (0.0, 0.05)
    twins: bool = False
    coded_field: float = 0.4
    motion: Motion = field(default_factory=Motion)


_SHOP = Level(stray=(0.03, 0.2), worn=(0.0, 0.12), noise=0.01)
LEVELS: dict[str, Level] = {
    "lab": Level(),
    "shop": _SHOP,
    "rims": replace(_SHOP, rim=0.7),
    "line": replace(_SHOP, line=0.5),
    "patched": replace(_SHOP, patch=0.5),
    "twins": replace(_SHOP, twins=True),
    "far": replace(_SHOP, height=(2.0, 3.8)),
    "slipping": replace(_SHOP, motion=Motion(scale=0.1, start_cm=4.0, slip_cm=0.15, speed=(20.0, 40.0), lost=0.01)),
    "nasty": replace(
        _SHOP, stray=(0.1, 0.35), height=(0.8, 2.0), noise=0.02, lag_ms=9.0, rim=0.3, line=0.2, patch=0.2, worn=(0.0, 0.25),
        motion=Motion(scale=0.05, start_cm=2.0, slip_cm=0.08, speed=(25.0, 45.0), lost=0.02),
    ),
}  # fmt: skip


def _look(hue: float, chroma: float, light: float) -> Floats:
    """(3,) reflectance in the three bands: a cosine around the hue."""
    turn = 2 * np.pi * (hue - np.array([0.0, 1.0, 2.0]) / 3.0)
    return np.asarray(np.clip(light * (1.0 + chroma * np.cos(turn)), 0.015, 0.95))


class Regulated:
    """One set-up at one level. Deterministic in (setup, level, seed)."""

    def __init__(self, setup: int, level: str) -> None:
        self.level, self.number = LEVELS[level], [4401, setup, list(LEVELS).index(level)]
        rng = np.random.default_rng([4400, setup])
        self.layout = list(LAYOUTS)[(setup + 2) % len(LAYOUTS)]
        self.course = course_named(self.layout)
        if self.level.twins:
            hues = (rng.uniform() + np.arange(3) / 3.0 + rng.uniform(-0.05, 0.05, 3)).repeat(2)
            lights = np.tile([0.42, 0.2], 3)
        else:
            hues = rng.uniform() + np.arange(6) / 6.0 + rng.uniform(-0.03, 0.03, 6)
            lights = rng.uniform(0.2, 0.5, 6)
        self.surface = {"none": np.full(3, rng.choice([0.05, 0.2, 0.45, 0.8])) * rng.uniform(0.85, 1.15, 3)}
        chroma = rng.uniform(0.45, 0.95, 3 if self.level.twins else 6)
        for i, name in enumerate(NAMES):
            self.surface[name] = _look(float(hues[i]), float(chroma[i // 2 if self.level.twins else i]), float(lights[i]))
        self.scale = float(rng.choice([400.0, 2000.0, 20000.0]))
        self.step = max(1.0, self.scale / 2000.0)
        self.tilt = rng.uniform(0.85, 1.15, 3)
        self.gain_error = np.concatenate([[1.0], rng.uniform(0.96, 1.04, 3)])
        self.spot_cm = float(rng.uniform(0.25, 0.5))  # one deviation
        self.field_coded = rng.random() < self.level.coded_field
        self.hold = int(rng.integers(1, 4))
        lit = np.random.default_rng(self.number)
        self.stray = lit.uniform(*self.level.stray) * lit.dirichlet(np.ones(3) * 5.0) * 3.0 * 0.4
        self.other_stray = lit.uniform(0.15, 0.4) * lit.dirichlet(np.ones(3) * 3.0) * 3.0 * 0.4
        self.colours = ("none", *NAMES, "grey")

    def _sent(self, light: Floats, rng: np.random.Generator) -> Floats:
        """The driver's values (n, 3) of light relative to white."""
        noise = self.level.noise
        light = light * (1.0 + 0.7 * noise * lagged(rng, (len(light), 1), 0.6) + 0.5 * noise * lagged(rng, light.shape, 0.4))
        counts_at_1 = 300.0 * light.max(axis=1)  # of 1023 at gain 1
        gains = np.empty(len(light), dtype=np.int64)
        now = 0
        for i, count in enumerate(counts_at_1.tolist()):
            while now and count * GAINS[now] > 900.0:
                now -= 1
            while now < 3 and count * GAINS[now + 1] < 500.0:
                now += 1
            gains[i] = now
        factor = np.array(GAINS)[gains][:, None] * self.gain_error[gains][:, None]
        counts = np.clip(np.floor(300.0 * light * factor + rng.normal(0.0, 1.5, light.shape)), 0.0, 1023.0)
        value = counts / np.array(GAINS)[gains][:, None] / 300.0 * self.scale * self.tilt
        return np.asarray(np.floor(value / self.step) * self.step)

    def _classified(self, sent: Floats, rng: np.random.Generator) -> NDArray[np.int64]:
        """Hue sectors around what each surface's hue is; nothing where it is dark or grey."""

        def hue(x: Floats) -> tuple[Floats, Floats, Floats]:
            axis = np.exp(2j * np.pi * np.arange(3) / 3.0)
            total = np.maximum(x.sum(axis=1), 1e-6)
            return np.asarray(np.angle(x @ axis)), np.asarray(np.abs(x @ axis) / total), total

        ideal = np.array(list(self.surface.values())) * self.scale * self.tilt
        angle, chroma, total = hue(sent / self.tilt)
        want, _, light = hue(ideal / self.tilt)
        gap = np.abs((angle[:, None] - want[None, 1:] + np.pi) % (2 * np.pi) - np.pi) + 0.15 * np.abs(
            np.log(total[:, None] / light[None, 1:])
        )
        codes = 1 + np.argmin(gap, axis=1)
        dull = chroma < 0.12
        codes[dull] = len(NAMES) + 1 if self.field_coded else 0
        codes[total < 0.08 * self.scale] = 0
        false = rng.random(len(codes)) < 0.02
        codes[false] = rng.integers(0, len(self.colours), int(false.sum()))
        return np.asarray(codes)

    def still(self, colour: str, other_light: bool = False, again: int = 0) -> SampleTable:
        """Held over a colour by hand."""
        rng = np.random.default_rng([*self.number, 7, list(self.surface).index(colour), int(other_light), again])
        stray = self.other_stray if other_light else self.stray
        light = np.tile(self.surface[colour] * (1.0 + rng.normal(0.0, 0.02)) + stray, (150, 1))
        sent = self._sent(light, rng)
        codes = settled(self._classified(sent, rng), np.ones(150, bool), self.hold)
        t_ms = np.arange(150) * 12.0
        return table_of(t_ms, sent, refl=None, codes=codes, colours=self.colours, dist=np.zeros(150), notes=[])

    def drive(self, seed: int) -> tuple[SampleTable, Truth]:
        """One run."""
        rng = np.random.default_rng([*self.number, 8, seed])
        level, truth = self.level, draw_truth(self.course, rng)
        way = drive_along(self.course, level.motion, rng)
        height, worn = rng.uniform(*level.height), rng.uniform(*level.worn)
        light = np.vstack([self._light(leg, truth, height, worn, rng) for leg in way.legs])
        sent = self._sent(light, rng)
        codes = settled(self._classified(sent, rng), np.ones(len(sent), bool), self.hold)
        table = table_of(
            np.concatenate([leg.t_ms for leg in way.legs]), sent, refl=None, codes=codes, colours=self.colours,
            dist=np.concatenate([leg.told for leg in way.legs]), notes=way.notes,
            lost=rng.random(len(sent)) < level.motion.lost,
        )  # fmt: skip
        return table, truth

    def _light(self, leg: Leg, truth: Truth, height: float, worn: float, rng: np.random.Generator) -> Floats:
        from scipy.signal import lfilter
        from scipy.special import ndtr

        level, place = self.level, leg.place
        seen = np.tile(self.surface["none"], (len(place), 1)) * (1.0 + 0.03 * smooth(rng, place, 5.0, 30.0))[:, None]
        wide = self.spot_cm * (0.7 + 0.3 * height)

        def lay(low: float, high: float, look: Floats) -> None:
            cover = ndtr((place - low) / wide) - ndtr((place - high) / wide)
            seen[:] += cover[:, None] * (look - seen)

        for i, slot in enumerate(self.course.slots):
            if slot.leg != leg.number or slot.unseen or truth[i] not in self.surface:
                continue
            at, width = (slot.at_cm or 0.0) + rng.normal(0.0, 0.1), slot.width_cm or 3.0
            low, high = at - width / 2, at + width / 2
            own = self.surface[truth[i]]
            lay(low, high, (1.0 - worn) * own + worn * own.mean())
            if rng.random() < level.patch:
                part = width * rng.uniform(0.15, 0.4)
                begin = rng.uniform(low, high - part)
                lay(begin, begin + part, np.full(3, 0.8) if rng.integers(2) else self.surface["none"])
            if rng.random() < level.rim:
                lay(low - rng.uniform(0.1, 0.25), low, np.full(3, 0.9))
                lay(high, high + rng.uniform(0.1, 0.25), np.full(3, 0.9))
            if rng.random() < level.line:
                thick, gap = rng.uniform(0.2, 0.7), rng.uniform(0.0, 1.2)
                begin = high + gap if rng.integers(2) else low - gap - thick
                lay(begin, begin + thick, np.full(3, 0.9 if rng.integers(2) else 0.03))
        for decoy in self.course.decoys:
            if decoy.leg == leg.number:
                at, half = decoy.at_cm or 0.0, (decoy.width_cm or 1.5) / 2
                lay(at - half, at + half, self.surface[str(rng.choice(NAMES))])
        drift = 1.0 + 0.05 * smooth(rng, leg.t_ms, 400.0, 3000.0)
        light = seen / (0.4 + 0.6 * height) ** 2.2 + self.stray * drift[:, None]
        step_ms = float(np.median(np.diff(leg.t_ms)))
        keeps = np.exp(-step_ms / level.lag_ms)
        return np.asarray(lfilter([1.0 - keeps], [1.0, -keeps], light, axis=0, zi=keeps * light[:1])[0])
