"""What lies along each leg: markers and decoys, each a stretch of a surface."""

from __future__ import annotations

from dataclasses import dataclass

from telemetry.course import EMPTY, Course, LegStart, Truth

_DEFAULT_WIDTH_CM = 4.0
_DEFAULT_GAP_CM = 10.0


@dataclass(frozen=True, slots=True)
class Span:
    """A coloured stretch on a leg, as one sensor passes it; ``low_cm`` to ``high_cm`` along the leg."""

    leg: int
    sensor: int
    low_cm: float
    high_cm: float
    colour: str


def spans(course: Course, truth: Truth, decoy_colours: tuple[str, ...]) -> tuple[Span, ...]:
    """Every marker and decoy the robot passes. Where only the order is known, markers stand 10 cm apart."""
    found = []
    reach: dict[tuple[int, int], float] = {}
    for slot, colour in zip(course.slots, truth, strict=True):
        if slot.unseen:
            continue
        key = (slot.leg, slot.sensor)
        at = slot.at_cm if slot.at_cm is not None else reach.get(key, 0.0) + _DEFAULT_GAP_CM
        reach[key] = max(at, reach.get(key, 0.0))
        half = (slot.width_cm or _DEFAULT_WIDTH_CM) / 2
        if colour != EMPTY:
            found.append(Span(slot.leg, slot.sensor, at - half, at + half, colour))
    for decoy, colour in zip(course.decoys, decoy_colours, strict=True):
        key = (decoy.leg, decoy.sensor)
        at = decoy.at_cm if decoy.at_cm is not None else reach.get(key, 0.0) + _DEFAULT_GAP_CM
        reach[key] = max(at, reach.get(key, 0.0))
        half = (decoy.width_cm or _DEFAULT_WIDTH_CM) / 2
        found.append(Span(decoy.leg, decoy.sensor, at - half, at + half, colour))
    return tuple(found)


def leg_reach_cm(course: Course, found: tuple[Span, ...]) -> list[float]:
    """How far the robot must drive on each leg so that every sensor has passed all of its markers."""
    reach = [_DEFAULT_GAP_CM] * len(course.legs)
    for slot in course.slots:
        if slot.at_cm is not None and not slot.unseen:
            ahead = ahead_cm(course, slot.leg, slot.sensor)
            reach[slot.leg] = max(reach[slot.leg], slot.at_cm + (slot.width_cm or _DEFAULT_WIDTH_CM) / 2 - ahead)
    for span in found:
        reach[span.leg] = max(reach[span.leg], span.high_cm - ahead_cm(course, span.leg, span.sensor))
    return reach


def ahead_cm(course: Course, leg: int, sensor: int) -> float:
    """How far the sensor is in front of the measured point in the direction of travel: a reversing robot turns the sign."""
    mounted = course.sensors[sensor].ahead_cm
    return -mounted if course.legs[leg].starts is LegStart.REVERSE else mounted
