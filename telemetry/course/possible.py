"""What no course can be: two markers in one place, more slots than colours, an order that no drive passes."""

from __future__ import annotations

from itertools import pairwise

from telemetry.course.model import Course, Decoy, Group, GroupRule, Slot
from telemetry.course.values import MAX_COLOURS
from telemetry.errors import CourseError

MAX_SLOTS = 255
"""The ledger tells a slot's number in eight bits, of which 0 is 'beyond the slots'."""
_ORDER = "List the slots in the order in which the robot passes them."


def check_possible(course: Course, where: str) -> None:
    """Raises CourseError with the first reason why ``course`` cannot exist."""
    if not course.slots:
        raise CourseError("there is no [[slot]]", where=where, todo="Describe at least one place where a marker stands.")
    if len(course.slots) > MAX_SLOTS:
        raise CourseError(f"has {len(course.slots)} slots", where=where, todo=f"At most {MAX_SLOTS} are possible.")
    _check_colours(course, where)
    for index, group in enumerate(course.groups):
        members = [slot for slot in course.slots if slot.group == index]
        _check_group(group, members, f"{where}, group '{group.name}'")
        _check_unseen(group, members, where)
    _check_order(course, where)
    _check_places(course, where)


def _check_colours(course: Course, where: str) -> None:
    by_lower: dict[str, str] = {}
    decoys = [decoy.colour for decoy in course.decoys if decoy.colour]
    for colour in (*course.colours, *decoys):
        known = by_lower.setdefault(colour.lower(), colour)
        if known != colour:
            raise CourseError(f"'{known}' and '{colour}' differ only in capitals", where=where, todo="Write both alike.")
    if len(by_lower) > MAX_COLOURS:
        raise CourseError(f"names {len(by_lower)} colours", where=where, todo=f"At most {MAX_COLOURS} are possible.")


def _check_group(group: Group, members: list[Slot], where: str) -> None:
    if not members:
        raise CourseError("no slot belongs to it", where=where, todo=f'Give its slots group = "{group.name}".')
    if group.rule is GroupRule.ANY:
        return
    slots, colours = len(members), len(group.colours)
    filled = slots - sum(slot.empty_ok for slot in members)
    if group.rule is GroupRule.DISTINCT:
        if filled > colours:
            raise CourseError(
                f"has {slots} slots but only {colours} colours, and no colour may come twice", where=where,
                todo="Add colours, or say how many there are of each with counts = {...}.",
            )  # fmt: skip
        return
    total = sum(group.counts)
    if filled <= total <= slots:
        return
    if group.rule is GroupRule.ONE_OF_EACH:
        if total < filled:
            todo = "One of each needs as many colours as slots; counts = {...} says how many there are of each."
        else:
            todo = "One of each needs as many slots as colours; distinct = [...] leaves colours over."
        raise CourseError(f"has {slots} slots but {colours} colours", where=where, todo=todo)
    raise CourseError(f"its counts add up to {total}, but it has {slots} slots", where=where, todo="Make the two agree.")


def _check_unseen(group: Group, members: list[Slot], where: str) -> None:
    unseen = [slot for slot in members if slot.unseen]
    if not unseen:
        return
    spot = f"{where}, slot '{unseen[0].name}'"
    todo = "Only a group with one_of_each or counts tells the colour of a slot that is never passed."
    if group.rule in {GroupRule.ANY, GroupRule.DISTINCT}:
        if group.rule is GroupRule.DISTINCT and len(group.colours) == len(members):
            todo = f"Group '{group.name}' has as many colours as slots: write one_of_each instead of distinct."
        raise CourseError("is unseen, but nothing tells its colour", where=spot, todo=todo)
    if sum(group.counts) < len(members):
        raise CourseError(
            "is unseen, but its colour does not follow, because slots of its group may be empty", where=spot,
            todo="Take 'unseen' or 'empty_ok' away.",
        )  # fmt: skip
    if len(unseen) > max(group.counts):
        raise CourseError(
            f"is unseen, and so are {len(unseen) - 1} more of group '{group.name}': their colours never follow", where=spot,
            todo="One of each leaves one slot to follow from the others.",
        )  # fmt: skip


def _check_order(course: Course, where: str) -> None:
    """The slots of one sensor stand in the file as the robot passes them."""
    for sensor in range(len(course.sensors)):
        mine = [slot for slot in course.slots if slot.sensor == sensor and not slot.unseen]
        for before, after in pairwise(mine):
            if after.leg < before.leg:
                late, early = course.legs[after.leg].name, course.legs[before.leg].name
                what = f"comes after '{before.name}', but its leg '{late}' is driven before '{early}'"
                raise CourseError(what, where=f"{where}, slot '{after.name}'", todo=_ORDER)
        for leg in range(len(course.legs)):
            placed = [slot for slot in mine if slot.leg == leg and slot.at_cm is not None]
            for before, after in pairwise(placed):
                if (after.at_cm or 0.0) < (before.at_cm or 0.0):
                    what = f"is at {after.at_cm:g} cm, but comes after '{before.name}' at {before.at_cm:g} cm"
                    raise CourseError(what, where=f"{where}, slot '{after.name}'", todo=_ORDER)


def _check_places(course: Course, where: str) -> None:
    placed: list[tuple[str, Slot | Decoy]] = [("slot", slot) for slot in course.slots if slot.at_cm is not None]
    placed += [("decoy", decoy) for decoy in course.decoys if decoy.at_cm is not None]
    for i, (kind, one) in enumerate(placed):
        at = one.at_cm or 0.0
        start = min(0.0, course.sensors[one.sensor].ahead_cm)
        if at < start:
            what = f"is at {at:g} cm, before the place where its sensor starts ({start:g} cm)"
            raise CourseError(what, where=f"{where}, {kind} '{one.name}'", todo="Distances count from the start of the leg.")
        for other_kind, other in placed[i + 1 :]:
            if (one.leg, one.sensor) != (other.leg, other.sensor):
                continue
            room = ((one.width_cm or 0.0) + (other.width_cm or 0.0)) / 2
            apart = abs(at - (other.at_cm or 0.0))
            # A hair of tolerance: markers that touch are possible, and decimal fractions are not exact.
            if apart < room - 1e-6 or apart < 1e-6:
                raise CourseError(
                    f"overlaps {kind} '{one.name}': their centres are {apart:g} cm apart, their widths need {room:g} cm",
                    where=f"{where}, {other_kind} '{other.name}'", todo="Check at_cm and width_cm of both.",
                )  # fmt: skip
