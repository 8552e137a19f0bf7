"""What looks as if columns or names were mistaken: each a question to the user, no verdict."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Final

import numpy as np
from numpy.typing import NDArray

from telemetry.course import EMPTY, NONE, Course
from telemetry.palette import Palette
from telemetry.sample import SampleTable

_ROWS: Final = 100_000
"""So many rows are looked at: what is mistaken is so from the first line on."""
_SHORT, _LONG = 0.25, 20.0
"""A drive of less or more than so many times the course's length is no drive along it."""


def doubts(table: SampleTable, course: Course | None, palette: Palette | None = None) -> tuple[str, ...]:
    """One sentence each, without a full stop."""
    if table.rows < 10:
        return ()
    return (*_columns(table), *_distance(table, course), *_colours(table, course), *_palette(course, palette))


def _begin(table: SampleTable, name: str) -> NDArray[np.float64]:
    return np.asarray(table.columns[name][: min(table.rows, _ROWS)], dtype=np.float64)


def _columns(table: SampleTable) -> list[str]:
    out = []
    if table.lost > 2 * table.rows:
        out.append(
            f"by their numbers {table.lost} lines are lost and {table.rows} came: are the columns named in the order "
            "in which they are sent?"
        )
    for name in table.columns:
        if name.partition(".")[0] == "refl":
            values = _begin(table, name)
            high = float(np.max(values, initial=0.0, where=np.isfinite(values)))
            if high > 150.0:
                out.append(f"{name} reaches {high:.0f} %: is that column another one, or its unit another?")
    steps_ms = np.diff(_begin(table, "t_us")) / 1000.0
    usual_ms = float(np.median(steps_ms))
    if usual_ms >= 2000.0 or 0.0 < usual_ms < 0.1:
        out.append(f"by its clock a sample comes every {usual_ms:.3g} ms: is the unit of t right?")
    return out


def _distance(table: SampleTable, course: Course | None) -> list[str]:
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
        return [
            f"dist covers {driven:.3g} cm, and the course's markers stand up to {max(reach.values()):g} cm from a leg's "
            "start: was the run broken off, or is the unit of dist another (mm, cm, m)?"
        ]
    return []


def _colours(table: SampleTable, course: Course | None) -> list[str]:
    """Colours of the stream that are near to one of the course which never comes."""
    if course is None:
        return []
    known = {NONE, EMPTY, *course.colours, *(decoy.colour for decoy in course.decoys)}
    absent = [colour for colour in course.colours if colour not in table.colours]
    return [
        f"the robot sends '{sent}', which the course does not have, and never '{meant[0]}': the same colour?"
        for sent in table.colours
        if sent not in known and (meant := get_close_matches(sent, absent, n=1, cutoff=0.7))
    ]


def _palette(course: Course | None, palette: Palette | None) -> list[str]:
    """Colours of the course that a measured palette does not have: from raw channels they cannot be read."""
    if course is None or palette is None or not palette.measured:
        return []
    missing = [colour for colour in course.colours if palette.get(colour) is None]
    if not missing:
        return []
    others = [name for name in palette.names if name not in {NONE, *course.colours}]
    near = [(name, close[0]) for name in others if (close := get_close_matches(name, missing, n=1, cutoff=0.7))]
    like = "".join(f" (its '{name}' may be '{meant}')" for name, meant in near)
    todo = "calibrate it, or give a colour the same name everywhere"
    return [f"the palette does not know {', '.join(missing)}{like}: {todo}"]
