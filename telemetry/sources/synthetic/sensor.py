"""The colour sensor: a spot of light that moves over the field, and what its three channels count."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from telemetry.course import Course
from telemetry.sources.synthetic.drive import Drive
from telemetry.sources.synthetic.field import Span, ahead_cm
from telemetry.sources.synthetic.physics import Physics
from telemetry.sources.synthetic.surfaces import DAYLIGHT, patch_of, responses

Floats = NDArray[np.float64]
_PARTS = 3  # a measurement is the mean of this many moments


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What one run has drawn: the light of the place and its share, how worn each marker is, gains of the channels."""

    light: str
    ambient: float
    wear: Floats  # one a span
    gain: Floats  # (3,)
    start_off_cm: Floats  # one a leg


@dataclass(frozen=True, slots=True)
class Measurements:
    """``done_ms``: when each was finished (n,); ``counts`` (n, 3) as sent; ``refl_pct`` (n,); ``pos_cm`` (n,) true."""

    done_ms: Floats
    counts: Floats
    refl_pct: Floats
    pos_cm: Floats


def spot_share(low: Floats, high: Floats) -> Floats:
    """Share of an evenly lit round spot that lies between two lines, given in radii from its middle."""

    def left_of(u: Floats) -> Floats:
        inside = np.clip(u, -1.0, 1.0)
        part: Floats = 0.5 + (inside * np.sqrt(1.0 - inside * inside) + np.arcsin(inside)) / np.pi
        return part

    return left_of(high) - left_of(low)


def waves(rng: np.random.Generator, way_cm: Floats, shortest_cm: float, longest_cm: float) -> Floats:
    """A smooth random course along the way with standard deviation 1."""
    lengths = rng.uniform(shortest_cm, longest_cm, 3)
    phases = rng.uniform(0.0, 2 * np.pi, 3)
    total: Floats = np.sin(2 * np.pi * way_cm[:, None] / lengths + phases).sum(axis=1) * np.sqrt(2.0 / 3.0)
    return total


def measure(
    course: Course,
    sensor: int,
    drive: Drive,
    *,
    found: tuple[Span, ...],
    physics: Physics,
    around: Surroundings,
    rng: np.random.Generator,
) -> Measurements:
    """All measurements of one sensor over the drive, in the rhythm of the sensor."""
    first = rng.uniform(0.0, physics.measuring_ms)
    start = np.arange(first, drive.duration_ms - physics.measuring_ms, physics.measuring_ms)
    grid = np.arange(len(drive.leg), dtype=np.float64)
    parts = (np.arange(_PARTS) + 0.5) / _PARTS * physics.integration_ms
    moments = start[:, None, None] + np.arange(3)[:, None] * physics.stagger_ms + parts  # (n, channel, part)
    way = np.interp(moments.ravel(), grid, drive.travelled_cm).reshape(moments.shape)
    leg = drive.leg[np.minimum(np.round(start).astype(np.int64), len(grid) - 1)]
    ahead = np.array([ahead_cm(course, number, sensor) for number in range(len(course.legs))])
    place = way + (ahead + around.start_off_cm)[leg][:, None, None]
    middle = place.mean(axis=(1, 2))

    along = leg * 500.0 + middle
    height = physics.height_mm * np.clip(1.0 + physics.height_ripple * waves(rng, along, 6.0, 40.0), 0.3, 3.0)
    radius_cm = height * np.tan(np.radians(physics.spot_half_angle_deg)) / 10.0

    own_field = responses([physics.field_patch])[0]
    ambient_field = responses([physics.field_patch], around.light)[0]
    own = np.broadcast_to(own_field, (len(start), 3)).copy()
    ambient = np.broadcast_to(ambient_field, (len(start), 3)).copy()
    mine = [(span, wear) for span, wear in zip(found, around.wear, strict=True) if span.sensor == sensor]
    patches = patch_of([*course.colours, *(span.colour for span in found)])
    for span, wear in mine:
        near = (leg == span.leg) & (middle > span.low_cm - 4.0 * physics.height_mm / 10.0) & (
            middle < span.high_cm + 4.0 * physics.height_mm / 10.0
        )
        if not near.any():
            continue
        spread = radius_cm[near][:, None, None]
        share = spot_share((span.low_cm - place[near]) / spread, (span.high_cm - place[near]) / spread).mean(axis=2)
        share *= 1.0 - wear
        own[near] += share * (responses([patches[span.colour]])[0] - own_field)
        ambient[near] += share * (responses([patches[span.colour]], around.light)[0] - ambient_field)

    lamp = (physics.height_nominal_mm / height) ** 2
    swing = 0.0 if around.light in DAYLIGHT else physics.flicker
    centre_s = moments.mean(axis=2) / 1000.0
    turn = 2 * np.pi * physics.flicker_hz
    blur = np.sinc(physics.flicker_hz * physics.integration_ms / 1000.0)
    lit = 1.0 + swing * blur * np.sin(turn * centre_s + rng.uniform(0.0, 2 * np.pi))
    uneven = np.clip(1.0 + physics.ambient_unevenness * waves(rng, along, 30.0, 150.0) * 0.5, 0.2, 2.0)
    light = own * lamp[:, None] + ambient * around.ambient * uneven[:, None] * lit

    signal = physics.white_counts * light * around.gain
    noise = _drawn(rng, signal.shape, physics) * np.sqrt(physics.read_noise_counts**2 + physics.shot_noise**2 * signal)
    counts = np.clip(np.round(physics.black_counts + signal + noise), 0.0, physics.full_scale_counts)
    refl = 100.0 * light.mean(axis=1) + rng.normal(size=len(start)) * physics.refl_noise_pct
    done = start + 2 * physics.stagger_ms + physics.integration_ms
    return Measurements(done, counts, np.clip(np.round(refl), 0.0, 100.0), middle)


def _drawn(rng: np.random.Generator, shape: tuple[int, ...], physics: Physics) -> Floats:
    """Noise of deviation 1: (measurements, channels), with what channels and successive measurements have in common."""
    own: Floats = rng.normal(size=shape)
    if physics.noise_common > 0.0:
        shared = rng.normal(size=(shape[0], 1))
        own = math.sqrt(1.0 - physics.noise_common) * own + math.sqrt(physics.noise_common) * shared
    if physics.noise_lag1 > 0.0:
        fresh = math.sqrt(1.0 - physics.noise_lag1**2)
        for k in range(1, shape[0]):
            own[k] = physics.noise_lag1 * own[k - 1] + fresh * own[k]
    return own
