"""Built-in samples: a short drive past every slot, and what the logic makes of it on the computer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.course import LegStart
from telemetry.reading.layout import tenths_mm
from telemetry.reading.plan import Plan
from telemetry.sample import MISSING, T_MODULUS_MS, WHOLE_MAX, QuantizedColumns

Row = tuple[int, ...]
"""t, d, v, h, refl, red, green, blue, code, note."""
NAMES = ("t", "d", "v", "h", "refl", "red", "green", "blue", "code")
STEP_MS = 20
OVER_A_MARKER, BETWEEN = 5, 4
MOST_ROWS = 240


@dataclass(frozen=True, slots=True)
class SelfCheckSamples:
    """``rows``: for each sample one Row a sensor. ``events``: (row, event), those of the end of the run behind the last."""

    rows: tuple[tuple[Row, ...], ...]
    events: tuple[tuple[int, int], ...]


def samples_of(plan: Plan) -> SelfCheckSamples:
    """Made from the plan itself; the plan is set back before and after."""
    rows = tuple(_drive(plan)[:MOST_ROWS])
    wholes = [_whole([row[k] for row in rows]) for k in range(len(plan.chains))]
    notes = {i: row[0][9] for i, row in enumerate(rows) if row[0][9]}
    plan.reset()
    events = [(row, event) for row, _, event in plan.run(wholes, notes, 0, len(rows))]
    events += [(len(rows), event) for _, event in plan.finish()]
    plan.reset()
    return SelfCheckSamples(rows, tuple(events))


def _whole(rows: list[Row]) -> QuantizedColumns:
    table = np.array(rows, dtype=np.int64).reshape(len(rows), len(NAMES) + 1)
    return QuantizedColumns(**{name: np.ascontiguousarray(table[:, k]) for k, name in enumerate(NAMES)})


def _drive(plan: Plan) -> list[tuple[Row, ...]]:
    course = plan.course
    out: list[tuple[Row, ...]] = []
    d, t, heading = 0, 1000, 0
    for number, leg in enumerate(course.legs):
        note = 0
        way = 1
        if number:
            if leg.starts is LegStart.NOTE:
                note = plan.notes[leg.starts_note]
            elif leg.starts is LegStart.HEADING:
                heading = round(leg.starts_heading_deg * 10)
            elif leg.starts is LegStart.RESET:
                d = 0
            else:
                way = -1
        begin = d
        stops: list[tuple[int, int | None, int]] = [(0, None, BETWEEN)]
        for slot in sorted((s for s in course.slots if s.leg == number and not s.unseen), key=lambda s: s.at_cm or 0.0):
            at = tenths_mm(slot.at_cm if slot.at_cm is not None else len(stops) * 10.0)
            at -= round(course.sensors[slot.sensor].ahead_cm * 100)
            stops += [(at, course.slots.index(slot), OVER_A_MARKER), (at + 250, None, BETWEEN)]
        taken: dict[int, int] = {}
        for at, place, count in stops:
            for k in range(count):
                d = begin + way * max(0, at + 15 * (k - count // 2))
                colour, sensor = 0, -1
                if place is not None:
                    sensor = course.slots[place].sensor
                    colour = _colour_of(plan, place, taken)
                row = [_row(plan, s, t, d, heading, colour if s == sensor else 0, note) for s in range(len(plan.chains))]
                out.append(tuple(row))
                t, note = (t + STEP_MS) % T_MODULUS_MS, 0
    return out


def _colour_of(plan: Plan, place: int, taken: dict[int, int]) -> int:
    """A colour that may stand at the slot: neighbours of a group get different ones."""
    slot = plan.course.slots[place]
    colours = plan.course.groups[slot.group].colours
    number = taken.setdefault(place, sum(plan.course.slots[other].group == slot.group for other in range(place)))
    return plan.names.index(colours[number % len(colours)])


def _row(plan: Plan, sensor: int, t: int, d: int, heading: int, colour: int, note: int) -> Row:  # noqa: PLR0917
    have = plan.layouts[sensor].channels
    looks = plan.layouts[sensor].palette.get(plan.names[colour])
    raw = [MISSING] * 4
    if looks is not None:
        for k, (name, scale) in enumerate((("red", 1), ("green", 1), ("blue", 1), ("refl", 10))):
            if name in have and np.isfinite(looks.mean[k]):
                raw[k] = max(0, min(int(looks.mean[k] * scale + 0.5), WHOLE_MAX))
    red, green, blue, refl = raw
    return (
        t, d if "dist" in have else MISSING, MISSING, heading if "heading" in have else MISSING, refl, red, green, blue,
        colour if "colour" in have else MISSING, note,
    )  # fmt: skip
