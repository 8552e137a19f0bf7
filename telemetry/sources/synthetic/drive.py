"""How the robot drives the course: standing, turning on the spot, speed ramps, one leg after the other."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from telemetry.course import Course, LegStart
from telemetry.sources.synthetic.field import ahead_cm
from telemetry.sources.synthetic.physics import Physics

Floats = NDArray[np.float64]


@dataclass
class Drive:
    """The drive on a grid of 1 ms from the switching on; one entry a millisecond in each array.

    ``travelled_cm`` is the true way since the leg's start, never falling; ``odometer_cm`` what the wheels say, with slip,
    falling where the robot reverses. ``notes``: (ms, text) of the robot's program.
    """

    leg: NDArray[np.int64]
    travelled_cm: Floats
    odometer_cm: Floats
    heading_deg: Floats
    notes: list[tuple[float, str]]

    @property
    def duration_ms(self) -> float:
        """From the first to the last millisecond."""
        return float(len(self.leg) - 1)


@dataclass
class _Road:
    """Pieces of the drive as they are laid one behind the other."""

    legs: list[NDArray[np.int64]] = field(default_factory=list)
    ways: list[Floats] = field(default_factory=list)
    odometers: list[Floats] = field(default_factory=list)
    headings: list[Floats] = field(default_factory=list)
    notes: list[tuple[float, str]] = field(default_factory=list)
    ms: int = 0

    def lay(self, leg: int, way: Floats, odometer: Floats, heading: Floats) -> None:
        self.legs.append(np.full(len(way), leg, dtype=np.int64))
        self.ways.append(way)
        self.odometers.append(odometer)
        self.headings.append(heading)
        self.ms += len(way)


def _ramped_way(length_cm: float, speed_cm_s: float, ramp_cm_s2: float) -> Floats:
    """Way (cm) at each ms: speed up, run on, slow down; a short way never reaches full speed."""
    top = min(speed_cm_s, float(np.sqrt(length_cm * ramp_cm_s2)))
    ramp_s = top / ramp_cm_s2
    even_s = (length_cm - top * ramp_s) / top
    total_s = 2 * ramp_s + even_s
    t = np.arange(1, int(np.ceil(total_s * 1000)) + 1) / 1000.0
    up = 0.5 * ramp_cm_s2 * np.minimum(t, ramp_s) ** 2
    even = top * np.clip(t - ramp_s, 0.0, even_s)
    down_t = np.clip(t - ramp_s - even_s, 0.0, ramp_s)
    way: Floats = up + even + top * down_t - 0.5 * ramp_cm_s2 * down_t**2
    return np.minimum(way, length_cm)


def _way_with_stops(ends_cm: list[float], stop_ms: float, speed_cm_s: float, ramp_cm_s2: float) -> Floats:
    """From 0 to each of ``ends_cm`` in turn, standing in between."""
    pieces: list[Floats] = []
    begin = 0.0
    for end in ends_cm:
        if pieces:
            pieces.append(np.full(round(stop_ms), begin))
        pieces.append(begin + _ramped_way(end - begin, speed_cm_s, ramp_cm_s2))
        begin = end
    return np.concatenate(pieces)


def stops_cm(course: Course, leg: int, slip: float, last_cm: float) -> list[float]:
    """Where the robot stands on a leg to read each marker: by its own distance, so slip shifts these places."""
    found = [
        (slot.at_cm - ahead_cm(course, leg, slot.sensor)) / (1.0 + slip)
        for slot in course.slots
        if slot.leg == leg and slot.at_cm is not None and not slot.unseen
    ]
    return [place for place in sorted(set(found)) if 0.5 < place < last_cm - 0.5]


def drive(
    course: Course,
    reach_cm: list[float],
    physics: Physics,
    speed_cm_s: float,
    slip: Floats,
    *,
    rest_ms: float = 0.0,
    stop_ms: float = 0.0,
) -> Drive:
    """Drive every leg of ``course`` for ``reach_cm[leg]`` and the run-out; ``slip[leg]`` makes the wheels count too much.

    ``rest_ms``: how long it stands still before and after, besides its usual stops; ``stop_ms``: at each marker.
    """
    rest = round(rest_ms)
    road = _Road()
    stand = max(1, round(physics.stand_ms))
    heading = odometer = 0.0
    for number, leg in enumerate(course.legs):
        before = max(0, number - 1)
        way = float(road.ways[-1][-1]) if road.ways else 0.0
        still = stand if number else stand + rest
        road.lay(before, np.full(still, way), np.full(still, odometer), np.full(still, heading))
        aim = heading
        if leg.heading_deg is not None:
            aim = leg.heading_deg
        elif leg.starts is LegStart.HEADING:
            aim = leg.starts_heading_deg
        if number and aim != heading:
            steps = max(200, round(1500 * abs(aim - heading) / physics.turn_deg_s))
            part = np.arange(1, steps + 1) / steps
            turned = heading + (aim - heading) * part * part * (3 - 2 * part)
            road.lay(before, np.full(steps, way), np.full(steps, odometer), turned)
            road.lay(before, np.full(stand, way), np.full(stand, odometer), np.full(stand, aim))
        heading = aim
        if leg.starts is LegStart.NOTE:
            road.notes.append((float(road.ms), leg.starts_note))
        if leg.starts is LegStart.RESET:
            odometer = 0.0
        last_cm = reach_cm[number] + physics.run_out_cm
        ends = [*(stops_cm(course, number, float(slip[number]), last_cm) if stop_ms > 0.0 else []), last_cm]
        ahead = _way_with_stops(ends, stop_ms, speed_cm_s, physics.ramp_cm_s2)
        sign = -1.0 if leg.starts is LegStart.REVERSE else 1.0
        counted = odometer + sign * ahead * (1.0 + slip[number])
        road.lay(number, ahead, counted, np.full(len(ahead), heading))
        odometer = float(counted[-1])
    last, stand = float(road.ways[-1][-1]), stand + rest
    road.lay(len(course.legs) - 1, np.full(stand, last), np.full(stand, odometer), np.full(stand, heading))
    return Drive(
        leg=np.concatenate(road.legs), travelled_cm=np.concatenate(road.ways), odometer_cm=np.concatenate(road.odometers),
        heading_deg=np.concatenate(road.headings), notes=road.notes,
    )
