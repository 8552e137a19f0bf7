"""One table of a course file, read with every key checked: a typo is answered with the key that was meant."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from typing import NoReturn

from telemetry.course.model import EMPTY, NONE
from telemetry.errors import CourseError

MAX_COLOURS = 29
MAX_NAME = 80
"""Characters of a text: it stands in tables and sentences, and in a note, which must fit into a line of the stream."""
_FORBIDDEN = set(",=*#!\"'")


def listed(names: Iterable[str]) -> str:
    """Names as a sentence lists them: a, b and c."""
    quoted = list(names)
    return " and ".join([", ".join(quoted[:-1]), quoted[-1]]) if len(quoted) > 1 else "".join(quoted)


def nearest(word: str, known: Iterable[str]) -> str:
    """'Did you mean ...?', or the list of what there is; empty where there is nothing."""
    names = list(known)
    begun = [name.lower() for name in names if len(word) > 1 and name.lower().startswith(word.lower())]
    close = begun or get_close_matches(word.lower(), [name.lower() for name in names], n=1, cutoff=0.6)
    if close:
        return f"Did you mean '{next(name for name in names if name.lower() == close[0])}'?"
    return f"There are: {', '.join(names)}." if names else ""


def may_be_colour(name: str) -> bool:
    """Whether lists, tables and notes can hold the name as it is; a palette's colours are held to it too."""
    return name.isprintable() and not (_FORBIDDEN & set(name) or name.lstrip("+-").isdigit())


class Section:
    """A TOML table whose keys are taken one by one; what is left over at the end was never known."""

    def __init__(self, table: object, where: str, known: tuple[str, ...]) -> None:
        self.where = where
        if not isinstance(table, Mapping):
            self.refuse(f"must be a table, not {_kind(table)}")
        for key in table:
            if key not in known:
                self.refuse(f"unknown key '{key}'", todo=nearest(str(key), known))
        self._table: Mapping[str, object] = table

    def refuse(self, what: str, todo: str = "") -> NoReturn:
        """Raise the CourseError that names this table."""
        raise CourseError(what, where=self.where, todo=todo)

    def has(self, key: str) -> bool:
        """Whether the file gives this key."""
        return key in self._table

    def value(self, key: str) -> object:
        """The value as TOML gave it; None where the key is absent."""
        return self._table.get(key)

    def text(self, key: str, default: str | None = None) -> str:
        """A text on one line without commas or equal signs; required where there is no default."""
        value = self._table.get(key, default)
        if value is None:
            self.refuse(f"'{key}' is missing")
        if not isinstance(value, str):
            self.refuse(f"'{key}' must be a text in quotes, not {_kind(value)}")
        if not value.strip() and default is None:
            self.refuse(f"'{key}' is empty")
        if not value.isprintable():
            self.refuse(f"'{key}' holds a character that cannot be printed")
        if len(value) > MAX_NAME:
            self.refuse(f"'{key}' has {len(value)} characters ('{value[:20]}...')", todo=f"At most {MAX_NAME} are possible.")
        return value.strip()

    def name(self, key: str = "name") -> str:
        """A name that can also stand in a note and in a truth, so without commas, equal signs and quotes."""
        value = self.text(key)
        bad = sorted(_FORBIDDEN & set(value))
        if bad:
            self.refuse(f"the name '{value}' holds {bad[0]!r}", todo="Names do without , = * # ! and quotes.")
        return value

    def number(self, key: str, default: float | None = None, low: float = -1e6, high: float = 1e6) -> float | None:
        """A finite number within low..high; ``default`` where the key is absent."""
        value = self._table.get(key)
        if value is None:
            return default
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.refuse(f"'{key}' must be a number, not {_kind(value)}")
        if not low <= value <= high:
            self.refuse(f"'{key}' is {_shown(value)}, which is not within {low:g} to {high:g}")
        return float(value)

    def flag(self, key: str) -> bool:
        """true or false; false where the key is absent."""
        value = self._table.get(key, False)
        if not isinstance(value, bool):
            self.refuse(f"'{key}' must be true or false, not {_kind(value)}")
        return value

    def colours(self, key: str) -> tuple[str, ...]:
        """A list of colour names, none of them twice."""
        value = self._table.get(key)
        if not isinstance(value, list):
            self.refuse(f"'{key}' must be a list of colours such as [\"rust\", \"leaf\"], not {_kind(value)}")
        return self.checked_colours(key, value)

    def counts(self, key: str) -> tuple[tuple[str, ...], tuple[int, ...]]:
        """A table of colour = how many stand there; each at least 1."""
        value = self._table.get(key)
        if not isinstance(value, Mapping):
            self.refuse(f"'{key}' must be a table such as {{rust = 2, leaf = 1}}, not {_kind(value)}")
        names = self.checked_colours(key, list(value))
        for name, count in value.items():
            if isinstance(count, bool) or not isinstance(count, int) or not 1 <= count <= 1000:
                self.refuse(f"'{key}' gives {name} = {_shown(count)}", todo="A count is a whole number from 1 on.")
        return names, tuple(int(str(value[name])) for name in value)

    def checked_colours(self, key: str, names: list[object]) -> tuple[str, ...]:
        """The names if they can be colours; raises where one cannot."""
        if not names:
            self.refuse(f"'{key}' names no colour")
        checked: list[str] = []
        for name in names:
            if not isinstance(name, str) or not name.strip() or not name.isprintable() or name != name.strip():
                self.refuse(f"'{key}' holds {name!r}, which is no colour's name")
            if name.lower() in {NONE, EMPTY}:
                meaning = "that no colour is seen" if name.lower() == NONE else "that nothing stands there"
                self.refuse(f"a colour cannot be called '{name}'", todo=f"This word says {meaning}.")
            if not may_be_colour(name):
                self.refuse(f"a colour cannot be called '{name}'", todo="Use a word without , = * # ! and quotes.")
            if len(name) > MAX_NAME:
                what = f"the colour '{name[:20]}...' has {len(name)} characters"
                self.refuse(what, todo=f"At most {MAX_NAME} are possible.")
            if name.lower() in (known.lower() for known in checked):
                self.refuse(f"'{key}' names {name} twice")
            checked.append(name)
        if len(checked) > MAX_COLOURS:
            self.refuse(f"'{key}' names {len(checked)} colours", todo=f"At most {MAX_COLOURS} are possible.")
        return tuple(checked)


def _shown(value: object) -> str:
    """The value as text; a whole number of TOML may have more digits than Python writes out."""
    return "far too large" if isinstance(value, int) and abs(value) > 1 << 64 else f"{value}"


def _kind(value: object) -> str:
    kinds = {bool: "true or false", str: "a text", int: "a number", float: "a number", list: "a list", type(None): "absent"}
    return kinds.get(type(value), "a table" if isinstance(value, Mapping) else f"a {type(value).__name__}")
