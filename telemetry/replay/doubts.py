"""What looks as if columns or names were mistaken: each a question to the user, no verdict."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Final

import numpy as np
from numpy.typing import NDArray

from telemetry.course import EMPTY, NONE, Course
from telemetry.findings import Finding, FindingKind
from telemetry.palette import Palette
from telemetry.sample import SampleTable

_ROWS: Final = 100_000
"""So many rows are looked at: what is mistaken is so from the first line on."""
_SHORT, _LONG = 0.25, 20.0
"""A drive of less or more than so many times the course's length is no drive along it."""


def doubts(table: SampleTable, course: Course | None, palette: Palette | None = None) -> tuple[Finding, ...]:
    """What a user should be asked about, most general first; nothing for a table of fewer than ten rows."""
    if table.rows < 10:
        return ()
    return (*_columns(table), *_distance(table, course), *_colours(table, course), *_palette(course, palette))


def _begin(table: SampleTable, name: str) -> NDArray[np.float64]:
    return np.asarray(table.columns[name][: min(table.rows, _ROWS)], dtype=np.float64)


def _columns(table: SampleTable) -> list[Finding]:
    out: list[Finding] = []
    if table.lost > 2 * table.rows:
        out.append(Finding(FindingKind.LOST_TOO_MANY, numbers={"lost": table.lost, "came": table.rows}))
    for name in table.columns:
        if name.partition(".")[0] == "refl":
            values = _begin(table, name)
            high = float(np.max(values, initial=0.0, where=np.isfinite(values)))
            if high > 150.0:
                out.append(Finding(FindingKind.TOO_BRIGHT, cause=name, numbers={"percent": high}))
    steps_ms = np.diff(_begin(table, "t_us")) / 1000.0
    usual_ms = float(np.median(steps_ms))
    if usual_ms >= 2000.0 or 0.0 < usual_ms < 0.1:
        out.append(Finding(FindingKind.ODD_PERIOD, numbers={"period_ms": usual_ms}))
    return out


def _distance(table: SampleTable, course: Course | None) -> list[Finding]:
    if course is None or "dist" not in table.columns:
        return []
    reach: dict[int, float] = {}
    for slot in course.slots:
        if slot.at_cm is not None and not slot.unseen:
            reach[slot.leg] = max(reach.get(slot.leg, 0.0), slot.at_cm)
    dist = _begin(table, "dist")
    dist = dist[np.isfinite(dist)]
    if not reach or not len(dist):
        return []
    driven = float(np.ptp(dist))
    if 0.0 < driven < _SHORT * max(reach.values()) or driven > _LONG * sum(reach.values()):
        return [Finding(FindingKind.ODD_DISTANCE, numbers={"driven_cm": driven, "reach_cm": max(reach.values())})]
    return []


def _colours(table: SampleTable, course: Course | None) -> list[Finding]:
    """Colours of the stream that are near to one of the course which never comes."""
    if course is None:
        return []
    known = {NONE, EMPTY, *course.colours, *(decoy.colour for decoy in course.decoys)}
    absent = [colour for colour in course.colours if colour not in table.colours]
    return [
        Finding(FindingKind.NAMED_ALIKE, numbers={"sent": sent, "meant": meant[0]})
        for sent in table.colours
        if sent not in known and (meant := get_close_matches(sent, absent, n=1, cutoff=0.7))
    ]


def _palette(course: Course | None, palette: Palette | None) -> list[Finding]:
    """Colours of the course that a measured palette does not have: from raw channels they cannot be read."""
    if course is None or palette is None or not palette.measured:
        return []
    missing = [colour for colour in course.colours if palette.get(colour) is None]
    if not missing:
        return []
    others = [name for name in palette.names if name not in {NONE, *course.colours}]
    near = [(name, close[0]) for name in others if (close := get_close_matches(name, missing, n=1, cutoff=0.7))]
    return [Finding(FindingKind.PALETTE_LACKS, numbers={"colours": tuple(missing), "alike": tuple(near)})]
