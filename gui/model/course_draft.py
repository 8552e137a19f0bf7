"""A course while it is drawn: the sections of its TOML as rows of plain values, checked by the reader of course files."""

from __future__ import annotations

import copy
import re
import tomllib
from typing import Any

from gui.words import tr
from telemetry.course import Course, parse_course
from telemetry.course.model import GroupRule
from telemetry.errors import CourseError
from telemetry.toml_written import toml_document

Row = dict[str, Any]
KINDS = ("leg", "slot", "group", "decoy")
ORDER = ("course", "sensor", "leg", "slot", "group", "decoy", "score")
NUMBERS = ("at_cm", "width_cm", "heading_deg")
FLAGS = ("unseen", "empty_ok")
RULES = {"distinct": tr("no colour twice"), "one_of_each": tr("one of each"), "counts": tr("so many of each")}
STEP_CM, WIDTH_CM, NARROWEST_CM = 10.0, 4.0, 0.01
NEW = """[course]
name = "My course"
[[leg]]
name = "lane"
starts = "begin"
[[slot]]
name = "marker 1"
leg = "lane"
at_cm = 10.0
width_cm = 4.0
group = "markers"
[[group]]
name = "markers"
distinct = ["red", "green", "blue", "yellow", "white", "black", "orange", "pink"]
"""


class CourseDraft:
    """``sections`` is what the TOML holds. Every change is one call, so that it can be taken back as one."""

    def __init__(self, text: str = NEW) -> None:
        self.sections: dict[str, Any] = tomllib.loads(text)
        for kind in KINDS:
            self.sections.setdefault(kind, [])

    # -- what it is ---------------------------------------------------------------------------------------------------

    @property
    def name(self) -> str:
        return str(self.sections["course"].get("name", ""))

    def rows(self, kind: str) -> list[Row]:
        return list(self.sections[kind])

    def names(self, kind: str) -> list[str]:
        """The names of all legs, slots, groups or decoys."""
        return [str(row.get("name", "")) for row in self.rows(kind)]

    def to_toml(self) -> str:
        """As a course file."""
        whole = {key: self.sections[key] for key in ORDER if self.sections.get(key)}
        return toml_document(whole)

    def course(self) -> Course:
        """Raises CourseError, which says what is missing or impossible and where."""
        return parse_course(self.to_toml(), self.name or tr("course"))

    def problem(self) -> str:
        """What keeps it from being a course, in words; empty where nothing does."""
        try:
            self.course()
        except CourseError as error:
            return str(error)
        return ""

    def drawn(self) -> Course | None:
        """As it is drawn: also where markers still lie over each other. None where it is no course for another reason."""
        narrow = [{**row, "width_cm": NARROWEST_CM} if "width_cm" in row else row for row in self.rows("slot")]
        whole = {key: self.sections[key] for key in ORDER if self.sections.get(key)} | {"slot": narrow}
        for text in (self.to_toml(), toml_document(whole)):
            try:
                return parse_course(text, self.name or tr("course"))
            except CourseError:
                continue
        return None

    def cell(self, kind: str, row: int, key: str) -> str:
        """One value as it is shown and typed."""
        values = self.sections[kind][row]
        if kind == "group" and key in ("rule", "colours"):
            rule = next((one for one in RULES if one in values), "distinct")
            if key == "rule":
                return RULES[rule]
            given = values.get(rule, [])
            return (
                ", ".join(f"{colour} {count}" for colour, count in given.items()) if rule == "counts" else ", ".join(given)
            )
        if kind == "slot" and key == "group" and "colours" in values:
            return ", ".join(values["colours"])
        value = values.get(key, "")
        return f"{value:g}" if isinstance(value, float | int) and not isinstance(value, bool) else str(value)

    # -- changing it --------------------------------------------------------------------------------------------------

    def set_name(self, name: str) -> None:
        self.sections["course"]["name"] = name

    def set_cell(self, kind: str, row: int, key: str, text: str) -> None:
        """What was typed into one cell. Raises CourseError where a number is none."""
        values, text = self.sections[kind][row], text.strip()
        if kind == "group" and key in ("rule", "colours"):
            self._set_group(values, key, text)
        elif kind == "slot" and key == "group" and text not in self.names("group"):
            values.pop("group", None)
            values["colours"] = _words(text)
        elif key in NUMBERS:
            values.pop(key, None)
            if text:
                values[key] = _number(text)
        elif key in FLAGS:
            values.pop(key, None)
            if text:
                values[key] = True
        else:
            if kind == "slot" and key == "group":
                values.pop("colours", None)
            old = values.get(key)
            values[key] = text
            if key == "name" and kind in ("leg", "group"):
                self._renamed(kind, str(old), text)

    def _set_group(self, values: Row, key: str, text: str) -> None:
        rule = next((one for one in RULES if one in values), "distinct")
        given = values.pop(rule, [])
        if key == "rule":
            rule = next((one for one, words in RULES.items() if words == text), rule)
            names = list(given)
            values[rule] = dict.fromkeys(names, 1) if rule == "counts" else names
            if rule == "counts" and isinstance(given, dict):
                values[rule] = given
        elif rule == "counts":
            pairs = (re.fullmatch(r"(.*?)\s*(\d*)", word) for word in _words(text))
            values[rule] = {pair[1]: int(pair[2] or 1) for pair in pairs if pair and pair[1]}
        else:
            values[rule] = _words(text)

    def _renamed(self, kind: str, old: str, new: str) -> None:
        """What belongs to a leg or group follows it."""
        for row in [*self.sections["slot"], *self.sections["decoy"]]:
            if row.get(kind) == old:
                row[kind] = new

    def add(self, kind: str, **values: Any) -> int:
        """A new row after those there are, sensible where nothing is said; its number."""
        rows = self.sections[kind]
        row: Row = {"name": self._free_name(kind)}
        if kind in ("slot", "decoy"):
            leg = values.get("leg") or (rows[-1].get("leg") if rows else None) or next(iter(self.names("leg")), "")
            before = [float(one["at_cm"]) for one in rows if one.get("leg", leg) == leg and "at_cm" in one]
            row |= {"leg": leg} if leg else {}
            row |= {"at_cm": max(before, default=0.0) + STEP_CM, "width_cm": WIDTH_CM}
        if kind == "slot":
            group = (rows[-1].get("group") if rows else None) or next(iter(self.names("group")), "")
            row |= {"group": group} if group else {"colours": ["red", "green"]}
        elif kind == "leg":
            row |= {"starts": "begin" if not rows else "reset"}
        elif kind == "group":
            row |= {GroupRule.DISTINCT.value: ["red", "green", "blue", "yellow"]}
        rows.append(row | values)
        if kind == "slot":
            self._in_order()
            return self.names("slot").index((row | values)["name"])
        return len(rows) - 1

    def _in_order(self) -> None:
        """By leg and place, as slots are read; those without a place stay behind the others of their leg."""
        legs = self.names("leg")

        def place(row: Row) -> tuple[int, float]:
            leg = legs.index(row["leg"]) if row.get("leg") in legs else 0
            return leg, float(row.get("at_cm", 1e9))

        self.sections["slot"].sort(key=place)

    def place(self, row: int, at_cm: float) -> int:
        """Move a slot along its leg; its number afterwards."""
        moved = self.sections["slot"][row]
        moved["at_cm"] = round(at_cm, 1)
        self._in_order()
        return next(number for number, one in enumerate(self.sections["slot"]) if one is moved)

    def remove(self, kind: str, row: int) -> None:
        del self.sections[kind][row]

    def _free_name(self, kind: str) -> str:
        word = {"leg": tr("leg"), "slot": tr("marker"), "group": tr("group"), "decoy": tr("decoy")}[kind]
        taken = set(self.names(kind))
        # The second leg is leg 2, whatever the first is called; markers are put anywhere in their row.
        number = len(taken) + 1 if kind == "leg" else 1
        while f"{word} {number}" in taken:
            number += 1
        return f"{word} {number}"

    def snapshot(self) -> dict[str, Any]:
        """As it is now, to come back to."""
        return copy.deepcopy(self.sections)

    def restore(self, sections: dict[str, Any]) -> None:
        self.sections = copy.deepcopy(sections)


def _words(text: str) -> list[str]:
    return list(dict.fromkeys(word.strip() for word in text.split(",") if word.strip()))


def _number(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise CourseError(f"'{text}' is not a number", where=tr("course"), todo=tr("Type a number such as 21.5.")) from None
