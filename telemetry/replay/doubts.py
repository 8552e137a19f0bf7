"""What looks as if columns or names were mistaken: each a question to the user, no verdict."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Final

import numpy as np
from numpy.typing import NDArray

from telemetry.calibrate.outlook import called_alike
from telemetry.course import EMPTY, NONE, Course, LegStart
from telemetry.findings import Finding, FindingKind
from telemetry.palette import Palette
from telemetry.sample import SampleTable
from telemetry.stream.drives import STILL_S, drives, may_be_several

_ROWS: Final = 100_000
"""So many rows are looked at: what is mistaken is so from the first line on."""
_NO_RUN: Final = 100_000
"""A recording of more samples, 8 minutes at 200 a second, is a capture that goes on: nobody takes it for one run."""
_A_WHILE_US: Final = 250_000
_GOES_ON: Final = 1.0
"""Further than this within _A_WHILE_US, in cm or deg, is going on: 4 cm/s, and more than a heading's noise."""
_FEW: Final = 100
"""Rows that tell well enough that there is far too little turning to look at all."""
_MOST_TURNING: Final = 0.35
"""No drive turns in a greater share of its time than this."""
_TURNED_CM: Final = 1.0
"""No distance that is set back, and no drive backwards, is seen in less."""
_SHORT, _LONG = 0.25, 6.0
"""A drive of less or more than so many times the course's length is no drive along it. A run ends some way behind the last
marker, and cm taken for mm, or mm for cm, make ten of it."""


def doubts(table: SampleTable, course: Course | None, palette: Palette | None = None) -> tuple[Finding, ...]:
    """What a user should be asked about, most general first; nothing for a table of fewer than ten rows."""
    if table.rows < 10:
        return ()
    swapped = _heading_for_dist(table)
    several = _several_drives(table)
    where = swapped or _distance(table, course, several=bool(several))
    legs = () if several else legs_missed(table, course)
    return (*_columns(table), *where, *several, *legs, *_colours(table, course), *_palette(course, palette))


def no_colour(table: SampleTable) -> tuple[Finding, ...]:
    """A stream that no strategy can read, told at the moment of recording; a comparison says what each strategy lacks."""
    sent = {name.partition(".")[0] for name in table.columns}
    return () if "colour" in sent or sent >= {"red", "green", "blue"} else (Finding(FindingKind.NO_COLOUR),)


def notes_missed(table: SampleTable, course: Course | None) -> tuple[Finding, ...]:
    """Legs whose note never came. A comparison says so of strategies; this is for the moment of recording."""
    came = {note.text for note in table.notes}
    return tuple(
        Finding(FindingKind.NOTE_NEVER_CAME, numbers={"leg": leg.name, "note": leg.starts_note})
        for leg in (course.legs if course is not None else ())
        if leg.starts_note and leg.starts_note not in came
    )


def legs_missed(table: SampleTable, course: Course | None) -> tuple[Finding, ...]:
    """Legs that begin by a heading, a distance set back or driven backwards, of which the columns never show that."""
    if course is None or table.rows > _ROWS:
        return ()
    columns = {name: values[np.isfinite(values)] for name in ("dist", "heading") if name in table.columns
               for values in [_begin(table, name)]}  # fmt: skip
    dist, heading = columns.get("dist"), columns.get("heading")
    out = []
    for leg in course.legs[1:]:
        numbers = {"leg": leg.name, "starts": leg.starts.value, "deg": leg.starts_heading_deg}
        missed = False
        if leg.starts is LegStart.HEADING and heading is not None and len(heading):
            off = np.abs((heading - leg.starts_heading_deg + 180.0) % 360.0 - 180.0)
            missed = float(off.min()) > leg.heading_tol_deg
            numbers |= {"nearest_deg": float(heading[off.argmin()])}
        elif leg.starts in {LegStart.RESET, LegStart.REVERSE} and dist is not None and len(dist):
            missed = float(np.max(np.maximum.accumulate(dist) - dist)) < _TURNED_CM
        if missed:
            out.append(Finding(FindingKind.LEG_NEVER_BEGAN, numbers=numbers))
    return tuple(out)


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
    if steps_ms.min() < 0.1 or steps_ms.max() >= 2000.0:  # else no median is odd
        usual_ms = float(np.median(steps_ms))
        if usual_ms >= 2000.0 or 0.0 < usual_ms < 0.1:
            out.append(Finding(FindingKind.ODD_PERIOD, numbers={"period_ms": usual_ms}))
    return out


def _heading_for_dist(table: SampleTable) -> list[Finding]:
    """A drive goes on and turns now and then; where the heading goes on, and the distance to and fro, they are swapped."""
    if "dist" not in table.columns or "heading" not in table.columns:
        return []
    t_us = _begin(table, "t_us")
    rows = np.flatnonzero(t_us >= t_us[0] + _A_WHILE_US)
    if len(rows) >= 8 * _FEW:
        few = rows[::8]
        heading = _begin(table, "heading")
        change = heading[few] - heading[_a_while_before(t_us, few)]
        change = np.abs(change[np.isfinite(change)])
        if len(change) >= _FEW and float(np.mean(change > _GOES_ON)) < _MOST_TURNING / 2:
            return []
    before = _a_while_before(t_us, rows)
    dist, heading = (_begin(table, name)[rows] - _begin(table, name)[before] for name in ("dist", "heading"))
    known = np.isfinite(dist) & np.isfinite(heading)
    if int(known.sum()) < 10:
        return []
    driven, turned = (float(np.mean(np.abs(change[known]) > _GOES_ON)) for change in (dist, heading))
    if turned <= _MOST_TURNING or driven >= 0.85 * turned:
        return []
    to_and_fro = [_changes_of_sign(_begin(table, name)) for name in ("dist", "heading")]
    if to_and_fro[1] < min(0.03, to_and_fro[0]):
        return [Finding(FindingKind.HEADING_FOR_DIST, numbers={"driving": driven, "turning": turned})]
    return []


def _a_while_before(t_us: NDArray[np.float64], rows: NDArray[np.int64]) -> NDArray[np.int64]:
    """A clock that is set back is in no order: its rows are then compared with rows that are there, whichever they are."""
    before: NDArray[np.int64] = np.minimum(np.searchsorted(t_us, t_us[rows] - _A_WHILE_US), rows)
    return before


def _changes_of_sign(values: NDArray[np.float64]) -> float:
    """Of the steps of a series that are steps at all, the share that goes back where the one before went on."""
    steps = np.diff(values[np.isfinite(values)])
    signs = np.sign(steps[steps != 0])
    return float(np.mean(signs[1:] != signs[:-1])) if len(signs) > 1 else 0.0


def _distance(table: SampleTable, course: Course | None, *, several: bool) -> list[Finding]:
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
    far = not several and driven > _LONG * sum(reach.values())
    if 0.0 < driven < _SHORT * max(reach.values()) or far:
        return [Finding(FindingKind.ODD_DISTANCE, numbers={"driven_cm": driven, "reach_cm": max(reach.values())})]
    return []


def _several_drives(table: SampleTable) -> list[Finding]:
    """By distance or speed; light alone does not tell a rest from a long way without markers."""
    if table.rows > _NO_RUN or not {"dist", "speed"} & set(table.columns) or not may_be_several(table):
        return []
    count = len(drives(table))
    return [Finding(FindingKind.SEVERAL_DRIVES, numbers={"drives": count, "still_s": STILL_S})] if count > 1 else []


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
    """Colours of the course that a measured palette does not have, and such as it may have under each other's name."""
    if palette is None or not palette.measured:
        return []
    exchanged = [Finding(FindingKind.PALETTE_EXCHANGED, numbers={"pair": pair}) for pair in called_alike(palette)]
    if course is None:
        return exchanged
    missing = [colour for colour in course.colours if palette.get(colour) is None]
    if not missing:
        return exchanged
    others = [name for name in palette.names if name not in {NONE, *course.colours}]
    near = [(name, close[0]) for name in others if (close := get_close_matches(name, missing, n=1, cutoff=0.7))]
    return [*exchanged, Finding(FindingKind.PALETTE_LACKS, numbers={"colours": tuple(missing), "alike": tuple(near)})]
