"""From a course file (TOML) to a Course. Every key is checked; the course is refused where it is impossible."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

from telemetry.course.document import CourseDocument, DecoyTable, GroupRuleTable, LegTable, SlotTable
from telemetry.course.model import Course, Decoy, Group, GroupRule, Leg, LegStart, Points, Sensor, Slot
from telemetry.course.possible import check_possible
from telemetry.course.values import nearest
from telemetry.errors import CourseError
from telemetry.given_file import given_text
from telemetry.schema import MisfitError, checked, kind_words, value_at
from telemetry.toml_text import TomlError, read_toml

_SINGLE = re.compile(r"^[ \t]*\[(sensor|leg|slot|group|decoy)\]", re.MULTILINE)
MOST_BYTES = 1 << 20
MOST = 255
"""Of slots, because a reading has eight bits for its slot, and of everything else that is counted."""
_COUNTED = ("sensor", "leg", "slot", "group", "decoy")
_STARTS = "begin, note:TEXT, heading:DEG, reset or reverse"
_SEVERAL = "The double brackets say that there may be several."
TOLERANCE_DEG = 20.0
"""Of a leg's heading, where the file says none."""


def load_course(path: Path) -> Course:
    """The course in a TOML file. Raises CourseError: not there, not readable, misspelt or impossible."""
    todo = "Give the path of a course file."
    return parse_course(given_text(Path(path), CourseError, todo=todo, most_bytes=MOST_BYTES), str(path))


def parse_course(text: str, where: str = "course") -> Course:
    """The course written in ``text``; ``where`` names it in errors."""
    if len(text) > MOST_BYTES:
        raise CourseError(f"is longer than {MOST_BYTES >> 10:,} kB", where=where, todo="Shorten it.")
    try:
        whole = read_toml(text)
    except TomlError as error:
        single = _SINGLE.search(text)
        if single:
            what = f"'{single[1]}' must be written as [[{single[1]}]]"
            raise CourseError(what, where=where, todo=_SEVERAL) from error
        raise CourseError(f"is not valid TOML: {error.what}", where=where, todo=error.todo) from error
    for key in _COUNTED:
        if isinstance(tables := whole.get(key), list) and len(tables) > MOST:
            todo = f"At most {MOST} of each can be told apart."
            raise CourseError(f"has {len(tables)} {key}s", where=where, todo=todo)
    try:
        document = checked(whole, CourseDocument)
    except MisfitError as error:
        _refuse(error, whole, where)
    course = _Maker(document, where).course(text)
    check_possible(course, where)
    return course


def _refuse(error: MisfitError, whole: object, where: str) -> NoReturn:
    """Say what is wrong, and of which table."""
    what, todo, table = error.what, error.todo, error.table
    if error.problem == "unknown":
        what, todo = f"unknown key '{error.key}'", nearest(error.key, error.known)
    elif error.problem == "missing":
        what = f"'{error.key}' is missing"
        if error.key == "course" and not table:
            what, todo = "there is no [course]", 'Begin the file with [course] and name = "...".'
        elif error.key == "right":
            todo = "Say how many points a right reading is worth."
    elif error.problem == "kind":
        kind = kind_words(error.value)
        if error.key in _COUNTED and not table and error.path == (error.key,):
            what, todo = f"'{error.key}' must be written as [[{error.key}]]", _SEVERAL
        elif not table:  # what should be a table itself
            table, what = error.path, f"must be a table, not {kind}"
        else:
            what = f"'{error.key}' must be true or false, not {kind}"
    raise CourseError(what, where=_place(where, whole, table), todo=todo) from error


def _place(where: str, whole: object, table: Sequence[str | int]) -> str:
    """The file and the table, by its name where it has one."""
    if not table:
        return where
    key, *rest = table
    if not rest:
        return f"{where}, [{key}]"
    given = value_at(whole, (key, rest[0], "name"))
    label = f"'{given}'" if isinstance(given, str) and given.isprintable() else f"{int(rest[0]) + 1}"
    return f"{where}, {key} {label}"


class _Maker:
    """Makes the course of a document: what one table says of another one is looked up, and refused where it is not there."""

    def __init__(self, document: CourseDocument, where: str) -> None:
        self.document, self.where = document, where
        self.sensors = tuple(Sensor(str(one.name), float(one.ahead_cm)) for one in document.sensor) or (Sensor(),)
        self.legs: tuple[Leg, ...] = ()
        self.groups: list[Group] = []

    def course(self, text: str) -> Course:
        document = self.document
        self.legs = tuple(self._leg(one, i) for i, one in enumerate(document.leg)) or (Leg("course"),)
        self.groups = [self._group(one) for one in document.group]
        for kind, names in (("sensor", self.sensors), ("leg", self.legs), ("group", self.groups)):
            self._unique([one.name for one in names], kind)
        slots = tuple(self._slot(one) for one in document.slot)
        self._unique([slot.name for slot in slots], "slot")
        decoys = tuple(decoy for one in document.decoy for decoy in self._decoys(one))
        self._unique(list(dict.fromkeys((decoy.name, decoy.sensor) for decoy in decoys)), "decoy")
        score = document.score
        points = None if score is None else Points(float(score.right), float(score.wrong), float(score.missing))
        name = str(document.course.name)
        return Course(name, self.legs, self.sensors, tuple(self.groups), slots, decoys, points, text)

    def _refuse(self, kind: str, name: str, what: str, todo: str = "") -> NoReturn:
        raise CourseError(what, where=f"{self.where}, {kind} '{name}'", todo=todo)

    def _unique(self, names: Sequence[object], kind: str) -> None:
        for name in names:
            if names.count(name) > 1:
                called = name[0] if isinstance(name, tuple) else name
                what = f"there are {names.count(name)} {kind}s called '{called}'"
                raise CourseError(what, where=self.where, todo="Names must differ.")

    def _leg(self, table: LegTable, index: int) -> Leg:
        starts = table.starts or ("begin" if index == 0 else "")
        if not starts:
            self._refuse("leg", table.name, "'starts' is missing", f"Say what begins this leg: {_STARTS}.")
        kind, colon, rest = (part.strip() for part in starts.partition(":"))
        known = {start.value for start in LegStart}
        if kind not in known or (bool(colon) != (kind in {"note", "heading"})) or (colon and not rest):
            self._refuse("leg", table.name, f"'starts' is \"{starts}\"", f"It is one of {_STARTS}.")
        start = LegStart(kind)
        if start is LegStart.BEGIN and index > 0:
            what = "starts with the begin, but another leg comes before it"
            self._refuse("leg", table.name, what, f"Say what begins it: {_STARTS}.")
        turn = _degrees(rest) if start is LegStart.HEADING else 0.0
        if turn is None:
            self._refuse("leg", table.name, f"'starts' is \"{starts}\"", "After heading: comes a number of degrees.")
        heading, tolerance = table.heading_deg, table.heading_tol_deg
        if tolerance is not None and heading is None and start is not LegStart.HEADING:
            self._refuse("leg", table.name, "'heading_tol_deg' is given without a 'heading_deg'")
        return Leg(
            str(table.name), start, rest if start is LegStart.NOTE else "", turn, _plain(heading),
            TOLERANCE_DEG if tolerance is None else float(tolerance),
        )  # fmt: skip

    def _group(self, table: GroupRuleTable) -> Group:
        given = {
            GroupRule.DISTINCT: table.distinct, GroupRule.ONE_OF_EACH: table.one_of_each, GroupRule.COUNTS: table.counts,
        }  # fmt: skip
        rules = [rule for rule, value in given.items() if value is not None]
        if len(rules) != 1:
            what = "has no rule" if not rules else f"has {len(rules)} rules"
            todo = "A group has one of distinct = [...], one_of_each = [...] or counts = {...}."
            self._refuse("group", table.name, what, todo)
        if table.counts is not None:
            return Group(str(table.name), GroupRule.COUNTS, tuple(table.counts), tuple(table.counts.values()))
        colours = tuple(table.distinct or table.one_of_each or ())
        counts = (1,) * len(colours) if rules[0] is GroupRule.ONE_OF_EACH else ()
        return Group(str(table.name), rules[0], colours, counts)

    def _slot(self, table: SlotTable) -> Slot:
        """One slot. A slot with colours of its own adds its group, named after it."""
        leg = self._index(table, "leg", [one.name for one in self.legs])
        sensor = self._index(table, "sensor", [one.name for one in self.sensors])
        if (table.group is None) == (table.colours is None):
            both = "has neither a group nor colours" if table.group is None else "has both a group and colours"
            self._refuse("slot", table.name, both, 'Give group = "..." or colours = [...].')
        if table.colours is not None:
            self.groups.append(Group(str(table.name), GroupRule.ANY, tuple(table.colours)))
            group = len(self.groups) - 1
        else:
            named = {one.name: i for i, one in enumerate(self.groups) if one.rule is not GroupRule.ANY}
            wanted = str(table.group)
            if wanted not in named:
                todo = nearest(wanted, named) or "Describe it in a [[group]]."
                self._refuse("slot", table.name, f"there is no group '{wanted}'", todo)
            group = named[wanted]
        place, width = _plain(table.at_cm), _plain(table.width_cm)
        return Slot(str(table.name), leg, sensor, group, place, width, table.unseen, table.empty_ok)

    def _decoys(self, table: DecoyTable) -> list[Decoy]:
        """A decoy, once for every sensor that passes it: all of them where it names none."""
        leg = self._index(table, "leg", [one.name for one in self.legs])
        whose = list(range(len(self.sensors)))
        if table.sensor is not None:
            whose = [self._index(table, "sensor", [one.name for one in self.sensors])]
        place, width, colour = _plain(table.at_cm), _plain(table.width_cm), str(table.colour or "")
        return [Decoy(str(table.name), leg, sensor, place, width, colour) for sensor in whose]

    def _index(self, table: SlotTable | DecoyTable, key: str, known: list[str]) -> int:
        """Which of ``known`` the key (leg or sensor) names; the only one where the key is absent."""
        kind = "slot" if isinstance(table, SlotTable) else "decoy"
        name = table.leg if key == "leg" else table.sensor
        if name is None:
            if len(known) > 1:
                todo = f"The course has several {key}s: {', '.join(known)}."
                self._refuse(kind, table.name, f"'{key}' is missing", todo)
            return 0
        if name not in known:
            only = f"Describe it in a [[{key}]], or leave this line out." if known == [""] else nearest(name, known)
            self._refuse(kind, table.name, f"there is no {key} '{name}'", only)
        return known.index(name)


def _degrees(words: str) -> float | None:
    """The angle after ``heading:``; None where it is none."""
    try:
        angle = float(words)
    except ValueError:
        return None
    return angle if abs(angle) <= 3600 else None


def _plain(number: float | None) -> float | None:
    return None if number is None else float(number)
