"""From a course file (TOML) to a Course. Every key is checked; the course is refused where it is impossible."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from pathlib import Path

from telemetry.course.model import Course, Decoy, Group, GroupRule, Leg, LegStart, Points, Sensor, Slot
from telemetry.course.possible import check_possible
from telemetry.course.section import Section, nearest
from telemetry.errors import CourseError
from telemetry.given_file import given_text

_SINGLE = re.compile(r"^[ \t]*\[(sensor|leg|slot|group|decoy)\]", re.MULTILINE)
_TOP = ("course", "sensor", "leg", "slot", "group", "decoy", "score")
MOST_BYTES = 1 << 20
MOST = 255
"""Of slots, because a reading has eight bits for its slot, and of everything else that is counted."""
_STARTS = "begin, note:TEXT, heading:DEG, reset or reverse"


def load_course(path: Path) -> Course:
    """The course in a TOML file. Raises CourseError: not there, not readable, misspelt or impossible."""
    todo = "Give the path of a course file."
    return parse_course(given_text(Path(path), CourseError, todo=todo, most_bytes=MOST_BYTES), str(path))


def parse_course(text: str, where: str = "course") -> Course:
    """The course written in ``text``; ``where`` names it in errors."""
    if len(text) > MOST_BYTES:
        raise CourseError(f"is longer than {MOST_BYTES >> 10:,} kB", where=where, todo="Shorten it.")
    try:
        whole = tomllib.loads(text.replace("\r\n", "\n"))
    except (ValueError, RecursionError) as error:  # ValueError: a number of thousands of digits
        single = _SINGLE.search(text)
        if single:
            what = f"'{single[1]}' must be written as [[{single[1]}]]"
            raise CourseError(what, where=where, todo="The double brackets say that there may be several.") from error
        raise CourseError(f"is not valid TOML: {_first_lower(str(error))}", where=where) from error
    top = Section(whole, where, _TOP)
    if not top.has("course"):
        top.refuse("there is no [course]", todo='Begin the file with [course] and name = "...".')
    name = Section(top.value("course"), f"{where}, [course]", ("name",)).text("name")
    sensors = tuple(_sensor(one) for one in _sections(top, where, "sensor", ("name", "ahead_cm"))) or (Sensor(),)
    leg_keys = ("name", "starts", "heading_deg", "heading_tol_deg")
    legs = tuple(_leg(one, i) for i, one in enumerate(_sections(top, where, "leg", leg_keys))) or (Leg("course"),)
    groups = [_group(one) for one in _sections(top, where, "group", ("name", "distinct", "one_of_each", "counts"))]
    for kind, names in (("sensor", sensors), ("leg", legs), ("group", groups)):
        _unique([one.name for one in names], where, kind)
    slot_keys = ("name", "leg", "sensor", "at_cm", "width_cm", "group", "colours", "unseen", "empty_ok")
    slots = tuple(_slot(one, legs, sensors, groups) for one in _sections(top, where, "slot", slot_keys))
    _unique([slot.name for slot in slots], where, "slot")
    decoy_keys = ("name", "leg", "sensor", "at_cm", "width_cm", "colour")
    decoys = [decoy for one in _sections(top, where, "decoy", decoy_keys) for decoy in _decoy(one, legs, sensors)]
    _unique(list(dict.fromkeys((decoy.name, decoy.sensor) for decoy in decoys)), where, "decoy")
    points = None
    if top.has("score"):
        points = _points(Section(top.value("score"), f"{where}, [score]", ("right", "wrong", "missing")))
    course = Course(name, legs, sensors, tuple(groups), slots, tuple(decoys), points, text)
    check_possible(course, where)
    return course


def _sections(top: Section, where: str, key: str, known: tuple[str, ...]) -> list[Section]:
    tables = top.value(key)
    if tables is None:
        return []
    if not isinstance(tables, list):
        top.refuse(f"'{key}' must be written as [[{key}]]", todo="The double brackets say that there may be several.")
    if len(tables) > MOST:
        top.refuse(f"has {len(tables)} {key}s", todo=f"At most {MOST} of each can be told apart.")
    out = []
    for number, table in enumerate(tables, 1):
        given = table.get("name") if isinstance(table, dict) else None
        label = f"'{given}'" if isinstance(given, str) and given.isprintable() else str(number)
        out.append(Section(table, f"{where}, {key} {label}", known))
    return out


def _unique(names: Sequence[object], where: str, kind: str) -> None:
    for name in names:
        if names.count(name) > 1:
            shown = name[0] if isinstance(name, tuple) else name
            times = names.count(name)
            raise CourseError(f"there are {times} {kind}s called '{shown}'", where=where, todo="Names must differ.")


def _index(section: Section, key: str, known: list[str], many: str) -> int:
    """Which of ``known`` the key names; the only one where the key is absent."""
    if not section.has(key):
        if len(known) == 1:
            return 0
        section.refuse(f"'{key}' is missing", todo=f"The course has several {many}: {', '.join(known)}.")
    name = section.text(key)
    if name not in known:
        if known == [""]:
            section.refuse(f"there is no {key} '{name}'", todo=f"Describe it in a [[{key}]], or leave this line out.")
        section.refuse(f"there is no {key} '{name}'", todo=nearest(name, known))
    return known.index(name)


def _sensor(section: Section) -> Sensor:
    return Sensor(section.name(), section.number("ahead_cm", 0.0, -500, 500) or 0.0)


def _leg(section: Section, index: int) -> Leg:
    name = section.name()
    starts = section.text("starts", "begin" if index == 0 else "")
    if not starts:
        section.refuse("'starts' is missing", todo=f"Say what begins this leg: {_STARTS}.")
    kind, colon, rest = (part.strip() for part in starts.partition(":"))
    known = {start.value for start in LegStart}
    if kind not in known or (bool(colon) != (kind in {"note", "heading"})) or (colon and not rest):
        section.refuse(f"'starts' is \"{starts}\"", todo=f"It is one of {_STARTS}.")
    start = LegStart(kind)
    if start is LegStart.BEGIN and index > 0:
        section.refuse("starts with the begin, but another leg comes before it", todo=f"Say what begins it: {_STARTS}.")
    turn = 0.0
    if start is LegStart.HEADING:
        try:
            turn = float(rest)
        except ValueError:
            turn = float("nan")
        if not abs(turn) <= 3600:
            section.refuse(f"'starts' is \"{starts}\"", todo="After heading: comes a number of degrees.")
    tolerance = section.number("heading_tol_deg", 20.0, 0.1, 180)
    if section.has("heading_tol_deg") and not section.has("heading_deg") and start is not LegStart.HEADING:
        section.refuse("'heading_tol_deg' is given without a 'heading_deg'")
    return Leg(
        name, start, rest if start is LegStart.NOTE else "", turn, section.number("heading_deg", None, -3600, 3600),
        20.0 if tolerance is None else tolerance,
    )  # fmt: skip


def _group(section: Section) -> Group:
    name = section.name()
    rules = [rule for rule in (GroupRule.DISTINCT, GroupRule.ONE_OF_EACH, GroupRule.COUNTS) if section.has(rule.value)]
    if len(rules) != 1:
        what = "has no rule" if not rules else f"has {len(rules)} rules"
        section.refuse(what, todo="A group has one of distinct = [...], one_of_each = [...] or counts = {...}.")
    rule = rules[0]
    if rule is GroupRule.COUNTS:
        colours, counts = section.counts("counts")
        return Group(name, rule, colours, counts)
    colours = section.colours(rule.value)
    return Group(name, rule, colours, (1,) * len(colours) if rule is GroupRule.ONE_OF_EACH else ())


def _slot(section: Section, legs: tuple[Leg, ...], sensors: tuple[Sensor, ...], groups: list[Group]) -> Slot:
    """One slot. A slot with colours of its own adds its group to ``groups``, named after it."""
    name = section.name()
    leg = _index(section, "leg", [one.name for one in legs], "legs")
    sensor = _index(section, "sensor", [one.name for one in sensors], "sensors")
    if section.has("group") == section.has("colours"):
        both = "has both a group and colours" if section.has("group") else "has neither a group nor colours"
        section.refuse(both, todo='Give group = "..." or colours = [...].')
    if section.has("group"):
        named = [one.name for one in groups if one.rule is not GroupRule.ANY]
        wanted = section.text("group")
        if wanted not in named:
            section.refuse(f"there is no group '{wanted}'", todo=nearest(wanted, named) or "Describe it in a [[group]].")
        group = next(i for i, one in enumerate(groups) if one.name == wanted and one.rule is not GroupRule.ANY)
    else:
        groups.append(Group(name, GroupRule.ANY, section.colours("colours")))
        group = len(groups) - 1
    width = section.number("width_cm", None, 0.01, 10_000)
    return Slot(
        name, leg, sensor, group, section.number("at_cm"), width, section.flag("unseen"), section.flag("empty_ok")
    )


def _decoy(section: Section, legs: tuple[Leg, ...], sensors: tuple[Sensor, ...]) -> list[Decoy]:
    """A decoy, once for every sensor that passes it: all of them where it names none."""
    name = section.name()
    leg = _index(section, "leg", [one.name for one in legs], "legs")
    whose = list(range(len(sensors)))
    if section.has("sensor"):
        whose = [_index(section, "sensor", [one.name for one in sensors], "sensors")]
    colour = section.checked_colours("colour", [section.text("colour")])[0] if section.has("colour") else ""
    at, width = section.number("at_cm"), section.number("width_cm", None, 0.01, 10_000)
    return [Decoy(name, leg, sensor, at, width, colour) for sensor in whose]


def _points(section: Section) -> Points:
    right = section.number("right")
    if right is None:
        section.refuse("'right' is missing", todo="Say how many points a right reading is worth.")
    return Points(right, section.number("wrong", 0.0) or 0.0, section.number("missing", 0.0) or 0.0)


def _first_lower(text: str) -> str:
    return text[:1].lower() + text[1:]
