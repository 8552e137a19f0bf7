"""A drive that ended early: the slots it can never have passed, so that no logic is blamed for what no sensor saw."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from telemetry.course import Course, Truth
from telemetry.findings import Finding, FindingKind
from telemetry.replay.readings import READ, Taken
from telemetry.replay.runner import Stretch
from telemetry.sample import MISSING, IntColumn, SampleTable

ODOMETER: Final = 1.15
"""A robot may have driven so much farther than its distance says (common practice, no source: worn wheels, slip)."""
RESET_CM: Final = 5.0
TOLD: Final = 0.95
"""Where fewer samples than this share have a distance, it says nothing about the whole."""
Walked = Callable[[int], tuple[IntColumn, IntColumn]]


class Beyond:
    """``slots``: indices of those that lie farther than the robot drove; empty where no distance tells.

    ``walked``: asked for a sensor's legs and places (0.1 mm or MISSING), row by row, where the whole way leaves it open.
    """

    def __init__(self, course: Course, table: SampleTable, stretch: Stretch, walked: Walked) -> None:
        self._course = course
        self.driven_cm = driven_cm(table, stretch)
        self.slots: tuple[int, ...] = ()
        if self.driven_cm is None:
            return
        ends = [max((slot.at_cm or 0.0 for slot in course.slots if slot.leg == leg), default=0.0)
                for leg in range(len(course.legs))]  # fmt: skip
        need: dict[int, float] = {}
        for number, slot in enumerate(course.slots):
            if slot.at_cm is not None and not slot.unseen:
                ahead = max(course.sensors[slot.sensor].ahead_cm, 0.0)
                need[number] = sum(ends[: slot.leg]) + slot.at_cm - (slot.width_cm or 0.0) / 2 - ahead
        if all(cm <= self.driven_cm for cm in need.values()):
            found = {number for number, cm in need.items() if cm > self.driven_cm * ODOMETER}
        else:
            found = self._by_leg(need, *zip(*(walked(sensor) for sensor in range(len(course.sensors))), strict=True))
        # What no sensor passes in any run follows from the others of its group.
        groups = {course.slots[number].group for number in found}
        found |= {number for number, slot in enumerate(course.slots) if slot.unseen and slot.group in groups}
        self.slots = tuple(sorted(found))

    def _by_leg(self, need: dict[int, float], legs: tuple[IntColumn, ...], places: tuple[IntColumn, ...]) -> set[int]:
        """On the last leg that was begun, the place on it tells; of those before nothing is said."""
        last = max((int(one.max()) for one in legs if len(one)), default=-1)
        found = set()
        for number, cm in need.items():
            slot = self._course.slots[number]
            there = places[slot.sensor][(legs[slot.sensor] == slot.leg) & (places[slot.sensor] != MISSING)]
            if slot.leg == last and len(there):
                near = (slot.at_cm or 0.0) - (slot.width_cm or 0.0) / 2
                never = float(there.max()) / 100.0 * ODOMETER < near
            else:
                never = slot.leg >= last and cm > (self.driven_cm or 0.0) * ODOMETER
            if never:
                found.add(number)
        return found

    @property
    def finding(self) -> Finding | None:
        """What was found; None where the drive did not end early."""
        if not self.slots:
            return None
        names = tuple(self._course.slots[slot].name for slot in self.slots)
        return Finding(FindingKind.ENDED_EARLY, numbers={"driven_cm": self.driven_cm, "slots": names})

    def excuses(self, taken: Taken, truth: Truth | None) -> bool:
        """Of a misread run, whether all that is wrong is that nothing was read where the robot never was."""
        if truth is None or taken.surplus or any(taken.slots[slot].how == READ for slot in self.slots):
            return False
        return all(
            number in self.slots or reading.colour == colour
            for number, (reading, colour) in enumerate(zip(taken.slots, truth, strict=True))
        )

    def is_refuted(self, taken: Taken, truth: Truth | None) -> bool:
        """Whether a slot was rightly read where the robot is said never to have been: its distance is not to be trusted."""
        return truth is not None and any(
            taken.slots[slot].how == READ and taken.slots[slot].colour == truth[slot] for slot in self.slots
        )


def driven_cm(table: SampleTable, stretch: Stretch) -> float | None:
    """The way driven, backwards too, at least as long as it was; None where the robot sends no distance."""
    column = table.columns.get("dist")
    if column is None:
        return None
    sent = np.asarray(column[stretch.start : stretch.stop], dtype=np.float64)
    told = np.isfinite(sent)
    sent = sent[told]
    if len(sent) < 2 or told.mean() < TOLD:
        return None
    step = np.diff(sent)
    # A distance that was set back: what it says now was driven since. A jump ahead is a gap in the stream.
    step = np.where(step < -RESET_CM, sent[1:], step)
    return float(abs(sent[0]) + np.abs(step).sum())
