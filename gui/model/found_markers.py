"""Markers found in a recorded run: where along which leg the sensor saw one colour for a while."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from gui.model.course_draft import CourseDraft
from gui.model.opened_run import OpenedRun

if TYPE_CHECKING:
    from telemetry.palette import Palette
    from telemetry.recording.load import Recording

SHORTEST_SAMPLES = 2
TOGETHER_CM = 1.0
"""Stretches of one colour with a smaller gap between them are one marker."""


@dataclass(frozen=True, slots=True)
class FoundMarker:
    """``at_cm``: its middle along the leg, ``width_cm``: as wide as it was seen."""

    leg: str
    at_cm: float
    width_cm: float
    colour: str


def found_markers(recording: Recording, draft: CourseDraft, palette: Palette | None) -> list[FoundMarker]:
    """In the order in which they were passed. Raises SidelongError where the draft's legs are no course yet."""
    legs = CourseDraft(draft.to_toml())
    for kind in ("slot", "decoy"):
        legs.sections[kind] = []
    legs.sections["slot"] = [{"name": "any", "leg": legs.names("leg")[0], "colours": ["any"]}] if legs.rows("leg") else []
    legs.sections["group"] = []
    run = OpenedRun(replace(recording, course=legs.course(), truth=None), palette)
    log = run.log("first-come")
    codes, names = run.seen_codes()
    if log is None or codes is None:
        return []
    stretches: list[list[tuple[str, float, str]]] = []
    for row, code in enumerate(codes):
        number = 0 if np.isnan(float(code)) else int(code)
        place = log.place(row) if 0 < number < len(names) else None
        if place is None:
            continue
        leg, at = place
        last = stretches[-1][-1] if stretches else None
        if last is None or last[2] != names[number] or last[0] != leg or abs(at - last[1]) > TOGETHER_CM:
            stretches.append([])
        stretches[-1].append((leg, at, names[number]))
    found = []
    for stretch in stretches:
        if len(stretch) >= SHORTEST_SAMPLES:
            places = [at for _leg, at, _colour in stretch]
            low, high = min(places), max(places)
            found.append(
                FoundMarker(stretch[0][0], round((low + high) / 2, 1), max(round(high - low, 1), 0.5), stretch[0][2])
            )
    return found
