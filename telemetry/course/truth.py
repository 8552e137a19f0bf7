"""The truth of a run: what really stood in each slot, as a person types it, checked against the course."""

from __future__ import annotations

from collections import Counter
from typing import NoReturn

from telemetry.course.model import EMPTY, Course, Group, GroupRule, Truth
from telemetry.course.values import listed, nearest
from telemetry.errors import TruthError


def parse_truth(text: str, course: Course, where: str = "truth") -> Truth:
    """``rust,leaf,...`` in slot order, or ``tag 1=rust,...`` by name in any order; ``empty`` for an empty slot.

    Returns one colour a slot, in slot order. Raises TruthError where it names an unknown slot or colour, leaves a slot out,
    or breaks the rule of a group.
    """
    parts = [part.strip() for part in text.split(",")]
    if not any(parts):
        _refuse("is empty", where, f"Give one colour for each slot: {listed(slot.name for slot in course.slots)}.")
    named = [part for part in parts if "=" in part]
    if named and len(named) < len(parts):
        bare = next(part for part in parts if "=" not in part)
        _refuse(f"'{bare}' has no slot's name, but others do", where, "Name every slot, or none.")
    colours = _by_name(parts, course, where) if named else parts
    if len(colours) != len(course.slots):
        names = listed(slot.name for slot in course.slots)
        _refuse(_count(len(colours), course), where, f"In order, with commas between the colours: {names}.")
    truth = tuple(_colour(colour, index, course, where) for index, colour in enumerate(colours))
    check_truth(truth, course, where)
    return truth


def format_truth(truth: Truth) -> str:
    """The truth as ``parse_truth`` reads it, in slot order."""
    return ",".join(truth)


def check_truth(truth: Truth, course: Course, where: str = "truth") -> None:
    """Raises TruthError where ``truth`` breaks the rule of one of its groups."""
    if len(truth) != len(course.slots):
        _refuse(_count(len(truth), course), where, "")
    for index, group in enumerate(course.groups):
        members = [i for i, slot in enumerate(course.slots) if slot.group == index]
        standing = Counter(truth[i] for i in members if truth[i] != EMPTY)
        if group.rule is GroupRule.ANY:
            continue
        names = {colour: listed(f"'{course.slots[i].name}'" for i in members if truth[i] == colour) for colour in standing}
        for colour, count in standing.items():
            allowed = _allowed(group, colour)
            if count > allowed:
                only = "once" if allowed == 1 else f"{allowed} times"
                _refuse(f"{colour} stands in {names[colour]}", where, f"Group '{group.name}' has it only {only}.")
        if group.rule is GroupRule.DISTINCT:
            continue
        absent = [colour for colour in group.colours if standing[colour] < _allowed(group, colour)]
        if absent and not any(truth[i] == EMPTY for i in members):
            missing, times = absent[0], _allowed(group, absent[0])
            _refuse(f"{missing} stands in only {standing[missing]} slots of '{group.name}'", where, f"It should be {times}.")


def _count(given: int, course: Course) -> str:
    slots = len(course.slots)
    return f"names {given} colour{'s' * (given != 1)}, but the course has {slots} slot{'s' * (slots != 1)}"


def _allowed(group: Group, colour: str) -> int:
    return group.counts[group.colours.index(colour)] if group.counts else 1


def _by_name(parts: list[str], course: Course, where: str) -> list[str]:
    slots = [slot.name for slot in course.slots]
    given: dict[str, str] = {}
    for part in parts:
        slot, _, colour = (word.strip() for word in part.partition("="))
        if slot not in slots:
            _refuse(f"there is no slot '{slot}'", where, nearest(slot, slots))
        if slot in given:
            _refuse(f"slot '{slot}' comes twice", where, "Name every slot once.")
        given[slot] = colour
    left = [slot for slot in slots if slot not in given]
    if left:
        _refuse(f"nothing is said about {listed(left)}", where, f"Write '{left[0]}=COLOUR', or '{left[0]}=empty'.")
    return [given[slot] for slot in slots]


def _colour(colour: str, index: int, course: Course, where: str) -> str:
    slot = course.slots[index]
    colours = course.groups[slot.group].colours
    spot = f"{where}, slot '{slot.name}'"
    if not colour:
        _refuse("has no colour", spot, "Write 'empty' where nothing stands.")
    if colour.lower() == EMPTY:
        if not slot.empty_ok:
            _refuse("is empty, which the course does not allow", spot, "A slot that may be empty has empty_ok = true.")
        return EMPTY
    if colour in colours:
        return colour
    alike = [one for one in colours if one.lower() == colour.lower()]
    if alike:
        return alike[0]
    return _refuse(f"'{colour}' cannot stand there", spot, nearest(colour, colours))


def _refuse(what: str, where: str, todo: str) -> NoReturn:
    raise TruthError(what, where=where, todo=todo)
