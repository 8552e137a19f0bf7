"""What one leg's samples say about every slot, place and colour: the tables the limit decoder searches. Floats, PC only.

Assumptions: the spot is round and mixes linearly what it covers; a leg's distance is wrong by one factor and one start, and
each slot may be off by a little more on its own; light, height and wear are the same for a whole run and one of a grid;
noise is normal; a surface differs from its palette colour by a few per cent, alike for all of a marker's samples.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from telemetry.reading.evidence.stages import GAIN_COST, GAINS, MODE_COST, WORN_COST, WORNS
from telemetry.reading.evidence.table import NAT, ColourTable

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

OWN = 0.05
"""Part of a colour's departure by which a surface may differ from its palette colour."""
LOOSE = 0.12
"""Part of its departure by which a marker may show more or less of its colour."""
DECOY = 300.0
"""How far a decoy's colour may be from the field (one deviation), scaled."""
SPOTS_CM = (0.5, 1.0, 1.8)
GRID_CM = 0.2
OWN_OFF_CM = 1.2
"""How far a slot may lie from where factor and start put it (three deviations)."""


@dataclass(frozen=True, slots=True)
class Light:
    """One combination of nuisances: ``now`` (legs, colours, 4) departures to expect, ``cost`` in nats, ``covers`` to try."""

    now: Floats
    cost: float
    covers: tuple[float, ...]


def lights(table: ColourTable, fields: Floats, colours: int) -> list[Light]:
    """Every combination of height, wear and light that is tried; ``fields`` (legs, 4) as found in the run, scaled."""
    marks = np.array(table.marks, dtype=np.float64).reshape(colours, 4)
    wear = np.array(table.wear, dtype=np.float64).reshape(colours, 4)
    none = np.array(table.none, dtype=np.float64)
    out = []
    for mode in range(4) if table.relative else (2, 3):
        share = np.ones((len(fields), 4))
        if mode % 2:
            have, total = fields.sum(axis=1, keepdims=True), none.sum()
            usable = (none > 20) & (have > 20)
            share = np.where(
                usable, np.clip(fields / np.maximum(none, 1.0) * total / np.maximum(have, 1.0), 0.62, 1.57), 1.0
            )
        for worn, worn_cost in zip(WORNS, WORN_COST, strict=True):
            look = marks + wear * worn / 1000.0
            for gain, gain_cost in zip(GAINS, GAIN_COST, strict=True):
                if mode >= 2:
                    now = (look + none)[None] * (gain / 100.0) * share[:, None] - fields[:, None]
                    covers: tuple[float, ...] = (1.0,)
                else:
                    now = look[None] * (gain / 100.0) * share[:, None]
                    covers = (1.0,)
                cost = (worn_cost + gain_cost + (MODE_COST[mode] if table.relative else 0)) / NAT
                out.append(Light(now, cost, covers))
    return out


def find_field(values: Floats, noise: float) -> tuple[Floats, float]:
    """The level most samples have, and the variance of one sample about it. ``values`` (n, 4), scaled, none missing."""
    tries = values[np.linspace(0, len(values) - 1, min(len(values), 60)).astype(int)]
    away = ((values[None] - tries[:, None]) ** 2).sum(axis=2)
    reach = 27.0 * noise + (tries**2).sum(axis=1) / 400.0 + 300.0
    field = tries[int(np.argmax((away < reach[:, None]).sum(axis=1)))]
    limit = 27.0 * noise + float((field**2).sum()) / 400.0 + 300.0
    sigma = noise
    for _ in range(5):
        z = ((values - field) ** 2).sum(axis=1)
        near = z < limit
        field = values[near].mean(axis=0)
        sigma = float(z[near].mean()) / 3.0 + 1.0
        limit = 16.0 * sigma + 300.0
    return np.asarray(field), sigma


def coverage(place: Floats, centres: Floats, half: float, spot_cm: float) -> Floats:
    """Share of a round spot (samples at ``place``) over a marker around each of ``centres``: (centres, samples)."""
    radius = spot_cm / 2.0

    def inside(edge: Floats) -> Floats:
        z = np.clip(edge / radius, -1.0, 1.0)
        return np.asarray(0.5 + (z * np.sqrt(1.0 - z**2) + np.arcsin(z)) / math.pi)

    gap = place[None, :] - centres[:, None]
    return np.clip(inside(gap + half) - inside(gap - half), 0.0, 1.0)


@dataclass(frozen=True, slots=True)
class Seen:
    """What one slot's samples add up to, for each of its possible centres and spots: ``weight`` (spots, centres) sum of
    squared coverages, ``departure`` (spots, centres, 4) the departure they imply. ``centres`` in cm.
    """

    centres: Floats
    weight: Floats
    departure: Floats


def seen_at(place: Floats, departs: Floats, centres: Floats, half: float) -> Seen:
    """Sufficient sums for one slot from the samples of its leg."""
    weights, departures = [], []
    for spot in SPOTS_CM:
        cover = coverage(place, centres, half, spot)
        weight = (cover**2).sum(axis=1)
        weights.append(weight)
        departures.append(cover @ departs / np.maximum(weight, 1e-9)[:, None])
    return Seen(centres, np.array(weights), np.array(departures))


def slot_scores(seen: Seen, now: Floats, sigma: float, channels: int) -> Floats:
    """Log-likelihood (spots, centres, colours) of each colour against the field; ``now`` (colours, 4).

    The departure is normal about the colour's own: by OWN in every direction, by LOOSE along it (wear, coverage), and by the
    noise of the samples' mean; all three integrate in closed form.
    """
    size = (now**2).sum(axis=1)
    variance = sigma / np.maximum(seen.weight, 1e-6)
    spread = variance[:, :, None] + (OWN**2 * size / channels) + 60.0
    along = spread + LOOSE**2 * size
    square = (seen.departure**2).sum(axis=2)[:, :, None]
    product = seen.departure @ now.T
    miss = square - 2.0 * product + size
    straight = (product - size) ** 2 / np.maximum(size, 1e-9)
    likely = -0.5 * ((miss - straight) / spread + straight / along)
    likely -= 0.5 * ((channels - 1) * np.log(spread / variance[:, :, None]) + np.log(along / variance[:, :, None]))
    return np.where(seen.weight[:, :, None] > 0.02, likely + 0.5 * square / variance[:, :, None], 0.0)


def decoy_scores(seen: Seen, sigma: float, channels: int) -> Floats:
    """Log-likelihood (spots, centres) of something of any colour there, or of nothing: what is larger."""
    variance = sigma / np.maximum(seen.weight, 1e-6)
    square = (seen.departure**2).sum(axis=2)
    total = variance + DECOY**2
    likely = -0.5 * square / total - 0.5 * channels * np.log(total / variance) + 0.5 * square / variance
    return np.where(seen.weight > 0.02, np.maximum(likely, 0.0), 0.0)


def code_scores(place: Floats, codes: Whole, centres: Floats, half: float, *, chances: Floats, trust: float) -> Floats:
    """The same from the sensor's codes: (spots, centres, colours); ``chances`` (colours, codes) is P(code | colour)."""
    out = []
    said = chances[:, codes]
    for spot in SPOTS_CM:
        cover = coverage(place, centres, half, spot)
        # At an edge any code may come up: mixtures look like colours that are not there.
        edge = 4.0 * cover * (1.0 - cover) * 0.5 / chances.shape[1]
        mixed = cover[:, None, :] * said[None] + (1.0 - cover)[:, None, :] * said[0] + edge[:, None, :]
        out.append(trust * np.log(mixed / said[0]).sum(axis=2))
    return np.array(out)
