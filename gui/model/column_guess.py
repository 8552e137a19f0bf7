"""What a robot's columns look like, from its lines alone: a guess with its reason, which a person confirms.

No source: common sense about clocks, counters and levels, tried on streams of the built-in robot without their header.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from gui.words import tr
from telemetry.stream.numbers import is_number, split_plain

UNKNOWN: Final = ""
CLOCKS: Final = (("t/us", 1e6), ("t/ms", 1e3), ("t/s", 1.0))
"""Units of a clock, and how far each goes in a second."""
FEW_COLOURS, MOST_TURN_DEG, STILL_DEG = 12, 400.0, 5.0
STEADY, MOSTLY = 0.9, 0.7
"""Of the steps so many are alike where lines are lost now and then."""
KNOWN: Final = (
    "t/ms", "t/s", "t/us", "n", "colour", "refl/%", "red", "green", "blue", "heading/deg", "dist/cm", "dist/mm",
    "speed/cm/s", "speed/mm/s", "battery/V", "battery/mV", "loop/ms",
)  # fmt: skip
"""What may be chosen for a column; any other name keeps it as a further channel."""


@dataclass(frozen=True, slots=True)
class ColumnGuess:
    """``name`` is ``quantity/unit``, or empty where nothing can be said; ``why`` is for people."""

    name: str
    why: str


def rows_of(lines: Sequence[str]) -> list[list[str]]:
    """The fields of the lines that have as many as most have, in order; of text and directives none."""
    split = [[field.strip() for field in split_plain(line)] for line in lines if line and line[0] not in "#!"]
    split = [fields for fields in split if sum(map(is_number, fields)) * 2 >= len(fields)]
    if not split:
        return []
    most = Counter(map(len, split)).most_common(1)[0][0]
    return [fields for fields in split if len(fields) == most]


def guess_columns(lines: Sequence[str], seconds: float) -> list[ColumnGuess]:
    """One guess a column. ``seconds``: how long the lines took to arrive; 0 where that is not known."""
    rows = rows_of(lines)
    if not rows:
        return []
    columns = [[row[place] for row in rows] for place in range(len(rows[0]))]
    numbers = [_numbers(column) for column in columns]
    found: dict[int, ColumnGuess] = {}
    for place, values in enumerate(numbers):
        _growing(place, values, seconds, found)
    _raw_channels(numbers, found)
    for place, (texts, values) in enumerate(zip(columns, numbers, strict=True)):
        if place not in found:
            found[place] = _by_values(texts, values, {one.name.split("/")[0] for one in found.values()})
    return [found[place] for place in range(len(columns))]


def named(names: Sequence[str]) -> str:
    """The columns as one text; a column without a name goes by its place."""
    return ",".join(name.strip() or f"column {place}" for place, name in enumerate(names, start=1))


def _numbers(column: Sequence[str]) -> list[float]:
    """Empty where any field is no number."""
    sent = [text for text in column if text]
    return [float(text) for text in sent] if sent and all(map(is_number, sent)) else []


def _growing(place: int, values: list[float], seconds: float, found: dict[int, ColumnGuess]) -> None:
    """A running number, a clock, or the distance."""
    steps = [after - before for before, after in pairwise(values)]
    if len(steps) < 3 or min(steps) < 0 or values[-1] <= values[0]:
        return
    names = {one.name.split("/")[0] for one in found.values()}
    middle = sorted(steps)[len(steps) // 2]
    steady = middle > 0 and sum(0.3 * middle <= step <= 3 * middle for step in steps) >= STEADY * len(steps)
    counts = sum(step == 1 for step in steps) >= MOSTLY * len(steps) and all(step == int(step) for step in steps)
    if steady and counts and "n" not in names and not _is_clock(values, seconds):
        found[place] = ColumnGuess("n", tr("grows by one with every line"))
    elif steady and "t" not in names:
        unit = _clock_unit(values[-1] - values[0], seconds)
        found[place] = ColumnGuess(unit, tr("grows steadily, by about {step:g} a line", step=middle))
    elif "dist" not in names:
        unit = "dist/mm" if values[-1] > 1000 and all(value == int(value) for value in values) else "dist/cm"
        found[place] = ColumnGuess(unit, tr("only grows; check the unit"))


def _is_clock(values: list[float], seconds: float) -> bool:
    span = values[-1] - values[0]
    return seconds > 0 and any(0.7 < span / (seconds * rate) < 1.4 for _, rate in CLOCKS)


def _clock_unit(span: float, seconds: float) -> str:
    if seconds <= 0:
        return "t/ms"
    return min(CLOCKS, key=lambda one: max(span / (seconds * one[1]), seconds * one[1] / max(span, 1e-9)))[0]


def _raw_channels(numbers: Sequence[list[float]], found: dict[int, ColumnGuess]) -> None:
    """The three columns side by side that are most alike in size, whole numbers that change: red, green and blue."""
    alike: list[tuple[float, int]] = []
    for place in range(len(numbers) - 2):
        three = numbers[place : place + 3]
        if any(at in found for at in range(place, place + 3)) or not all(three):
            continue
        tops = [max(values) for values in three]
        whole = all(value == int(value) and value >= 0 for values in three for value in values)
        moving = all(len(set(values)) > 1 for values in three)
        if whole and moving and min(tops) > 20 and max(tops) < 20 * min(tops):
            alike.append((max(tops) / min(tops), place))
    if alike:
        _, place = min(alike)
        for at, name in enumerate(("red", "green", "blue")):
            found[place + at] = ColumnGuess(name, tr("one of three alike; check their order"))


def _by_values(texts: Sequence[str], values: list[float], taken: set[str]) -> ColumnGuess:
    """The first that fits and is not ``taken``."""
    kinds = {text for text in texts if text}
    if not values:
        few = kinds and len(kinds) <= FEW_COLOURS and "colour" not in taken
        return ColumnGuess("colour", tr("words: {names}", names=", ".join(sorted(kinds)[:4]))) if few else _nothing()
    low, high = min(values), max(values)
    whole = all(value == int(value) for value in values)
    if len(kinds) == 1:
        return ColumnGuess(UNKNOWN, tr("does not change: move the robot"))
    if "colour" not in taken and whole and len(kinds) <= FEW_COLOURS and len(values) > 2 * len(kinds):
        return ColumnGuess("colour", tr("few whole numbers: {names}", names=", ".join(sorted(kinds)[:4])))
    turns = low < 0 or high > 100 or (not whole and high - low < STILL_DEG)
    between = tr("between {low:g} and {high:g}", low=low, high=high)
    if "heading" not in taken and turns and max(abs(low), abs(high)) <= MOST_TURN_DEG:
        return ColumnGuess("heading/deg", between)
    if "refl" not in taken and low >= 0 and high <= 100:
        return ColumnGuess("refl/%", between)
    return _nothing()


def _nothing() -> ColumnGuess:
    return ColumnGuess(UNKNOWN, tr("kept as a channel of its own"))
