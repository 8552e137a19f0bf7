"""Where markers stand on the courses of the tests' own robots, and how such a robot gets along them.

C0 to C5 stand for six colours. 'row', 'beads' and 'shelf' are those of the evidence tests; 'hedge' has narrow markers and
no rule but a list of colours, 'twice' two legs that share one group.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

import numpy as np
from evidence.other_robot import LAYOUTS as KNOWN
from numpy.typing import NDArray

from telemetry.course import Course, parse_course
from telemetry.sample import Note, SampleTable

Floats = NDArray[np.float64]
NAMES = ("rust", "orange", "leaf", "sky", "lemon", "pink")


def _slots(prefix: str, leg: str, places: tuple[float, ...], width_cm: float, rule: str) -> str:
    where = f'leg = "{leg}"\n' if leg else ""
    return "".join(
        f'[[slot]]\nname = "{prefix} {i + 1}"\n{where}at_cm = {at}\nwidth_cm = {width_cm}\n{rule}\n'
        for i, at in enumerate(places)
    )


_ANY = 'colours = ["C0", "C1", "C2", "C3", "C4", "C5"]'
LAYOUTS = {
    **KNOWN,
    "hedge": '[course]\nname = "hedge"\n' + _slots("post", "", (9.5, 15.0, 26.0, 31.5, 44.0), 2.2, _ANY),
    "twice": '[course]\nname = "twice"\n[[leg]]\nname = "out"\n[[leg]]\nname = "on"\nstarts = "note:turned"\n'
    + _slots("tub", "out", (11.0, 19.5, 33.0), 3.6, 'group = "all"')
    + _slots("pot", "on", (10.0, 24.0), 3.6, 'group = "all"')
    + '[[group]]\nname = "all"\ndistinct = ["C0", "C1", "C2", "C3", "C4", "C5"]\n',
}


@cache
def course_named(layout: str) -> Course:
    """One of LAYOUTS."""
    text = LAYOUTS[layout]
    for i, name in enumerate(NAMES):
        text = text.replace(f"C{i}", name)
    return parse_course(text)


@dataclass(frozen=True)
class Motion:
    """How a robot drives. Each pair is a range that a run draws from; ``scale`` and ``start_cm`` are greatest errors."""

    speed: tuple[float, float] = (15.0, 30.0)
    loop_ms: tuple[float, float] = (8.0, 12.0)
    scale: float = 0.01
    start_cm: float = 0.3
    slip_cm: float = 0.04  # random walk of the distance, cm per sqrt(cm)
    lost: float = 0.0


@dataclass
class Leg:
    """One leg of a run, sample by sample: robot time (ms), true place of the sensor and the distance told (cm)."""

    number: int
    t_ms: Floats
    place: Floats
    told: Floats
    speed: float


@dataclass
class Way:
    """All legs, and the rows and times of the notes that begin the later ones."""

    legs: list[Leg]
    notes: list[Note] = field(default_factory=list)


def drive_along(course: Course, motion: Motion, rng: np.random.Generator) -> Way:
    """A drive down every leg, at an even speed that wavers by a few per cent; distances told are wrong by ``motion``."""
    speed, loop = rng.uniform(*motion.speed), rng.uniform(*motion.loop_ms)
    way, clock, rows, base = Way([]), 0.0, 0, 0.0
    for number, leg in enumerate(course.legs):
        marks = [slot.at_cm or 0.0 for slot in course.slots if slot.leg == number and not slot.unseen]
        far = max(marks) + 12.0
        start = rng.uniform(-motion.start_cm, motion.start_cm)
        count = int((far - start) / (speed * loop / 1000.0)) + 2
        gait = 1.0 + 0.03 * np.sin(np.arange(count) * loop / rng.uniform(80.0, 400.0) + rng.uniform(0.0, 6.0))
        gone = np.cumsum(gait) * speed * loop / 1000.0
        factor = 1.0 + rng.uniform(-motion.scale, motion.scale)
        walk = np.cumsum(rng.normal(0.0, motion.slip_cm * np.sqrt(speed * loop / 1000.0), count))
        t_ms = clock + np.arange(count) * loop + rng.uniform(0.0, 0.1 * loop, count)
        if number:
            way.notes.append(Note(rows, round(clock * 1000), round(clock * 1000), leg.starts_note))
        way.legs.append(Leg(number, t_ms, start + gone, base + gone * factor + walk, float(speed)))
        clock, rows, base = float(t_ms[-1]) + 300.0, rows + count, float(base + gone[-1] * factor + walk[-1])
    return way


def smooth(rng: np.random.Generator, x: Floats, shortest: float, longest: float) -> Floats:
    """A random course over ``x`` with standard deviation about 1, in waves of the given lengths."""
    lengths, phases = rng.uniform(shortest, longest, 3), rng.uniform(0.0, 2 * np.pi, 3)
    return np.asarray(np.sin(2 * np.pi * x[:, None] / lengths + phases).sum(axis=1) * np.sqrt(2.0 / 3.0))


def lagged(rng: np.random.Generator, shape: tuple[int, ...], rho: float) -> Floats:
    """Normal noise of deviation 1 that correlates by ``rho`` from one row to the next."""
    from scipy.signal import lfilter

    white = rng.normal(size=shape)
    white[1:] *= np.sqrt(1.0 - rho**2)
    return np.asarray(lfilter([1.0], [1.0, -rho], white, axis=0))


def table_of(
    t_ms: Floats, raw: Floats, *, refl: Floats | None, codes: NDArray[np.int64], colours: tuple[str, ...], dist: Floats,
    notes: list[Note], lost: NDArray[np.bool_] | None = None, full: float = 0.0, black: float = 0.0,
) -> SampleTable:  # fmt: skip
    """The run as the decoder would give it; ``lost`` lines are taken out."""
    keep = np.ones(len(t_ms), bool) if lost is None else ~lost
    t_us = np.round(t_ms * 1000).astype(np.int64)
    columns: dict[str, NDArray[np.generic]] = {
        "t_us": t_us, "arrival_us": t_us, "boot": np.zeros(len(t_us), np.int64), "colour": codes.astype(np.int16),
        "red": raw[:, 0], "green": raw[:, 1], "blue": raw[:, 2], "dist": np.round(dist, 1),
    }  # fmt: skip
    if refl is not None:
        columns["refl"] = refl
    kept = np.concatenate([[0], np.cumsum(keep)])
    columns = {name: np.ascontiguousarray(values[keep]) for name, values in columns.items()}
    told = [Note(int(kept[note.row]), note.t_us, note.arrival_us, note.text) for note in notes]
    ranges = dict.fromkeys(("red", "green", "blue"), (black, full)) if full else {}
    return SampleTable(
        columns=columns, rows=int(keep.sum()), colours=colours, notes=told, ranges=ranges, lost=int((~keep).sum())
    )


def settled(codes: NDArray[np.int64], fresh: NDArray[np.bool_], hold: int) -> NDArray[np.int64]:
    """Codes of a sensor that gives a new one only after ``hold`` equal measurements in a row (``fresh``: a new one)."""
    out, said, last, count = codes.copy(), int(codes[0]), int(codes[0]), hold
    for i, (code, new) in enumerate(zip(codes.tolist(), fresh.tolist(), strict=True)):
        if new:
            count = count + 1 if code == last else 1
            last = code
            if count >= hold:
                said = code
        out[i] = said
    return out
