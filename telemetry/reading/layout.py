"""What a stage may ask when it is made: the course in whole numbers, for one sensor."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from telemetry.course import NONE, Course, GroupRule, LegStart
from telemetry.palette import CHANNELS, Palette
from telemetry.reading.portable.label import BRIGHTEST

FAR: Final = (1 << 30) - 1
"""Beyond every position; closes the tables that are searched by position."""
_STARTS = {LegStart.BEGIN: 0, LegStart.NOTE: 1, LegStart.HEADING: 2, LegStart.RESET: 3, LegStart.REVERSE: 4}


def _whole_channel(value: float) -> int:
    """A raw channel as the core takes it: whole, 18 bits at the most."""
    return max(0, min(int(value + 0.5), BRIGHTEST))


def tenths_mm(cm: float) -> int:
    """A distance of the course in the core's unit, 0.1 mm, half rounded up."""
    return int(cm * 100 + 0.5) if cm >= 0 else -int(-cm * 100 + 0.5)


@dataclass(frozen=True, slots=True)
class SlotTables:
    """The tables that the ledger writes and other stages read; one for all sensors of a plan. See portable/ledger.py."""

    start: list[int]
    board: list[int]
    taken: list[int]
    tally: list[int]
    group: list[int]
    counts: list[int]
    exact: list[int]
    """Slot -> 0: nothing follows by elimination, 1: it may (a slot that is passed), 2: it may (an unseen slot)."""
    tables: dict[str, list[int]] = field(default_factory=dict)

    def table(self, name: str, size: int) -> list[int]:
        """A table of zeros that the stages of all sensors share under this name; ``size`` is the same for all who ask."""
        return self.tables.setdefault(name, [0] * size)

    @classmethod
    def of(cls, course: Course, names: tuple[str, ...]) -> SlotTables:
        """The board of a course; colours numbered as in ``names``."""
        index = {name: i for i, name in enumerate(names)}
        masks = [sum(1 << index[colour] for colour in group.colours) for group in course.groups]
        counts = [-1] * (32 * len(course.groups))
        closed = []
        for number, group in enumerate(course.groups):
            members = [slot for slot in course.slots if slot.group == number]
            total = 0
            for k, colour in enumerate(group.colours):
                if group.rule is GroupRule.DISTINCT:
                    counts[number * 32 + index[colour]] = 1
                elif group.rule in (GroupRule.ONE_OF_EACH, GroupRule.COUNTS):
                    each = group.counts[k] if group.counts else 1
                    counts[number * 32 + index[colour]] = each
                    total += each
            closed.append(total == len(members) and not any(slot.empty_ok for slot in members))
        start = [masks[slot.group] | (1 if slot.empty_ok else 0) for slot in course.slots]
        return cls(
            start=[*start, 0],
            board=[*start, 0],
            taken=[0] * (len(course.groups) + 1),
            tally=[0],
            group=[*(slot.group for slot in course.slots), len(course.groups)],
            counts=counts,
            exact=[(2 if slot.unseen else 1) if closed[slot.group] else 0 for slot in course.slots],
        )


@dataclass(frozen=True, slots=True)
class Layout:
    """All that a stage may ask when it is made: the course, the palette, the colour names and one sensor's index.

    ``names``: index -> colour, 0 is ``none``; holds the course's colours first, then the palette's, then the stream's.
    ``channels``: the quantities this run has for this sensor ('colour', 'red', 'dist', ...).
    ``notes``: the texts of the notes that matter -> their numbers, from 1.
    """

    course: Course
    palette: Palette
    names: tuple[str, ...]
    sensor: int
    channels: frozenset[str]
    notes: Mapping[str, int]
    board: SlotTables

    @property
    def mine(self) -> list[int]:
        """The slots that this sensor passes, in course order."""
        return [i for i, slot in enumerate(self.course.slots) if slot.sensor == self.sensor and not slot.unseen]

    def on_leg(self, leg: int) -> list[int]:
        """Those of them that stand on one leg."""
        return [i for i in self.mine if self.course.slots[i].leg == leg]

    def legs(self) -> tuple[list[int], list[int], list[int]]:
        """How each leg starts, with what value and tolerance: the tables of Track."""
        legs = self.course.legs
        starts = [*(_STARTS[leg.starts] for leg in legs), 0]
        starts[0] = 0
        values = []
        for leg in legs:
            if leg.starts is LegStart.NOTE:
                values.append(self.notes[leg.starts_note])
            else:
                values.append(round(leg.starts_heading_deg * 10))
        return starts, values, [round(leg.heading_tol_deg * 10) for leg in legs]

    def stretches(self, margin: int) -> tuple[list[int], list[int], list[int], list[int]]:
        """Windows around this sensor's slots: (leg -> first entry, slots, low, high), see portable/place.py.

        ``margin`` (0.1 mm) widens each marker on both sides; neighbours share the room between them.
        """
        begin: list[int] = []
        slots: list[int] = []
        low: list[int] = []
        high: list[int] = []
        for leg in range(len(self.course.legs)):
            begin.append(len(slots))
            placed = []
            for i in self.on_leg(leg):
                slot = self.course.slots[i]
                if slot.at_cm is not None:
                    placed.append((tenths_mm(slot.at_cm), tenths_mm((slot.width_cm or 2.0) / 2) + margin, i))
            placed.sort()
            for k, (at, half, i) in enumerate(placed):
                before = (placed[k - 1][0] + at) // 2 + 1 if k else -FAR
                behind = (at + placed[k + 1][0]) // 2 if k + 1 < len(placed) else FAR
                slots.append(i)
                low.append(max(at - half, before))
                high.append(min(at + half, behind))
            slots.append(-1)
            low.append(FAR)
            high.append(FAR)
        return begin, slots, low, high

    def decoys(self, margin: int) -> tuple[list[int], list[int], list[int]]:
        """The stretches of this sensor's decoys whose place is known: (leg -> first entry, low, high)."""
        begin: list[int] = []
        low: list[int] = []
        high: list[int] = []
        for leg in range(len(self.course.legs)):
            begin.append(len(low))
            placed = sorted(
                (tenths_mm(decoy.at_cm), tenths_mm((decoy.width_cm or 2.0) / 2) + margin)
                for decoy in self.course.decoys
                if decoy.leg == leg and decoy.sensor == self.sensor and decoy.at_cm is not None
            )
            low += [at - half for at, half in placed] + [FAR]
            high += [at + half for at, half in placed] + [FAR]
        return begin, low, high

    def in_order(self) -> tuple[list[int], list[int]]:
        """This sensor's slots leg by leg: (leg -> first entry, slots, each leg's closed by -1)."""
        begin: list[int] = []
        order: list[int] = []
        for leg in range(len(self.course.legs)):
            begin.append(len(order))
            order += [*self.on_leg(leg), -1]
        return begin, order

    def colours(self) -> tuple[list[int], int, int, int]:
        """The palette in whole numbers, and its black levels: the first arguments of portable/label.py's Nearest.

        Of the typical colours only none and those of the course are used: they are too rough to tell all from each other.
        """
        black = [_whole_channel(self.palette.ranges.get(name, (0.0, 0.0))[0]) for name in CHANNELS[:3]]
        table = []
        for colour in self.palette.colours:
            wanted = self.palette.measured or colour.name in (NONE, *self.course.colours)
            if wanted and np.isfinite(colour.mean[:3]).all():
                channels = [max(0, _whole_channel(mean) - low) for mean, low in zip(colour.mean, black, strict=False)]
                total = max(1, sum(channels))
                table += [self.names.index(colour.name), *(channel * 1000 // total for channel in channels), total]
        return table, black[0], black[1], black[2]
