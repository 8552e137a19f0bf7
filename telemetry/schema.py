"""Files as typed data: what came as JSON or TOML becomes a dataclass or struct, or one sentence on what is wrong with it.

A schema is a ``msgspec.Struct`` or a dataclass: its fields are the keys, its types their kinds. Limits and spelling belong
to the types of single values (``CheckedValue``): a length has its unit in its name and its range as attributes.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, ClassVar, Final, Self, TypeVar, get_args

import msgspec

T = TypeVar("T")
KINDS: Final = {
    "str": "a text", "int": "a whole number", "float": "a number", "bool": "true or false", "array": "a list",
    "object": "a table", "null": "nothing", "date": "a date", "datetime": "a time",
}  # fmt: skip
_EXPECTED: Final = re.compile(r"Expected `([^`]+)`(?: of length ([^,]+))?, got `?([^`]+?)`?$")
_MISSING: Final = re.compile(r"Object missing required field `([^`]+)`$")
_UNKNOWN: Final = re.compile(r"Object contains unknown field `([^`]+)`$")
Path = tuple[str | int, ...]
"""Where in the data: keys and, counted from 0, places in lists. A key that is not known to the schema is empty."""


class RefusedError(ValueError):
    """What a value's own type says against it: a clause in which ``{key}`` stands for the key, and what to do about it."""

    def __init__(self, what: str, todo: str = "") -> None:
        super().__init__(what)
        self.what, self.todo = what, todo


class CheckedValue:
    """A type whose values are checked one by one: a class beside the built-in type that it is derived from."""

    @classmethod
    def read(cls, plain: object) -> Self:
        """``plain`` as such a value. Raises RefusedError."""
        raise NotImplementedError


class LimitedNumber(CheckedValue, float):
    """A finite number from ``low`` to ``high``."""

    low: ClassVar[float] = -1e6
    high: ClassVar[float] = 1e6

    @classmethod
    def read(cls, plain: object) -> Self:
        if isinstance(plain, bool) or not isinstance(plain, int | float):
            raise RefusedError(f"'{{key}}' must be a number, not {kind_words(plain)}", _as_number(plain))
        if not cls.low <= plain <= cls.high:
            raise RefusedError(f"'{{key}}' is {shown(plain)}, which is not within {cls.low:g} to {cls.high:g}")
        return cls(plain)


_WRITTEN_OUT: Final = re.compile(r"([-+]?\d+)(?:[.,](\d+))?")


def _as_number(plain: object) -> str:
    """How a number that stands in quotation marks is typed; empty for all else."""
    found = _WRITTEN_OUT.fullmatch(plain.strip()) if isinstance(plain, str) else None
    if found is None:
        return ""
    point = " and with a point" if isinstance(plain, str) and "," in plain else ""
    return f"Type it without quotation marks{point}: {found[1]}{'.' + found[2] if found[2] else ''}"


class MisfitError(ValueError):
    """The data does not fit its schema; the text is a clause such as "'name' of strategy 2 must be a text, not a number".

    ``problem``: unknown, missing, kind, refused or deep. ``table``: where the table is that ``key`` stands in, or should.
    ``known``: the keys that the table may have. ``value``: what was given. ``what``, ``todo``: as its own type says it.
    """

    def __init__(
        self, text: str, *, problem: str = "kind", path: Path = (), known: tuple[str, ...] = (), value: object = None,
        refused: RefusedError | None = None,
    ) -> None:  # fmt: skip
        super().__init__(text)
        self.problem, self.known, self.value = problem, known, value
        names = [i for i, part in enumerate(path) if isinstance(part, str)]
        at = names[-1] if names else 0
        self.path, self.table, self.key = path, path[:at], str(path[at]) if names else ""
        self.what = refused.what.replace("{key}", self.key) if refused is not None else text
        self.todo = refused.todo if refused is not None else ""


def checked(plain: object, kind: type[T]) -> T:
    """``plain`` (dicts, lists, texts, numbers) as ``kind``; no value is turned into another one. Raises MisfitError."""
    try:
        return msgspec.convert(plain, kind, strict=True, dec_hook=_read)
    except msgspec.ValidationError as error:
        raise _misfit(error, plain, kind) from error
    except (RecursionError, OverflowError) as error:
        raise MisfitError("it is nested too deeply, or holds a number that is too large", problem="deep") from error


def keys_of(kind: type[Any]) -> tuple[str, ...]:
    """The keys that a struct knows, as a file writes them."""
    return tuple(field.encode_name for field in msgspec.structs.fields(kind))


def kind_words(value: object) -> str:
    """'a text', 'a number', 'a list': what a value is, whole numbers and others alike."""
    kinds = {bool: "true or false", str: "a text", int: "a number", float: "a number", list: "a list", type(None): "absent"}
    return kinds.get(type(value), "a table" if isinstance(value, Mapping) else f"a {type(value).__name__}")


def shown(value: object) -> str:
    """The value as text; a whole number of TOML may have more digits than Python writes out."""
    return "far too large" if isinstance(value, int) and abs(value) > 1 << 64 else f"{value}"


def value_at(plain: object, path: Path) -> Any:
    """What stands at ``path``; None where nothing does."""
    for part in path:
        if isinstance(plain, Mapping):
            plain = plain.get(part)
        elif isinstance(plain, list | tuple) and isinstance(part, int) and part < len(plain):
            plain = plain[part]
        else:
            return None
    return plain


def _read(kind: type[Any], plain: object) -> Any:
    if not issubclass(kind, CheckedValue):
        raise NotImplementedError(f"no such values in files: {kind}")
    return kind.read(plain)


def _misfit(error: msgspec.ValidationError, plain: object, kind: type[Any]) -> MisfitError:
    """A validation error of msgspec in our words."""
    what, _, where = str(error).rpartition(" - at `") if " - at `" in str(error) else (str(error), "", "")
    parts = re.findall(r"\.([^.\[\]`]+)|\[(\d+)\]|\[(\.\.\.)\]", where.rstrip("`").removeprefix("$"))
    path: Path = tuple(int(number) if number else "" if dots else name for name, number, dots in parts)
    inside = [f"{part + 1}" if isinstance(part, int) else part for part in path]
    place = f" in {' '.join(filter(None, inside))}" if any(inside) else ""
    if found := _MISSING.match(what):
        return MisfitError(f"'{found[1]}' is missing{place}", problem="missing", path=(*path, found[1]))
    if found := _UNKNOWN.match(what):
        known = keys_of(_struct_at(kind, path))
        words = f"there is an unknown key '{found[1]}'{place}"
        return MisfitError(words, problem="unknown", path=(*path, found[1]), known=known)
    value = value_at(plain, path)
    if isinstance(error.__cause__, RefusedError):
        refused = error.__cause__
        text = f"{refused.what.replace('{key}', str(path[-1]) if path else 'it')}{place}"
        return MisfitError(text, problem="refused", path=path, value=value, refused=refused)
    subject = _subject([name for name in inside if name])
    if found := _EXPECTED.match(what):
        wanted = " or ".join(KINDS.get(one.strip(), one.strip()) for one in found[1].split("|"))
        length = f" of {found[2]}" if found[2] else ""
        text = f"{subject} must be {wanted}{length}, not {KINDS.get(found[3], found[3])}"
        return MisfitError(text, path=path, value=value)
    return MisfitError(f"{subject} is not as expected: {what[:1].lower()}{what[1:]}", path=path, value=value)


def _struct_at(kind: Any, path: Path) -> type[Any]:
    """The struct whose table stands at ``path``."""
    for part in path:
        if isinstance(part, str) and part:
            kind = next(field.type for field in msgspec.structs.fields(_struct_in(kind)) if field.encode_name == part)
    return _struct_in(kind)


def _struct_in(kind: Any) -> type[Any]:
    """The struct in a type such as ``tuple[Slot, ...] | None``."""
    inner = [kind]
    while inner:
        one = inner.pop()
        if isinstance(one, type) and issubclass(one, msgspec.Struct):
            return one
        inner += get_args(one)
    raise TypeError(f"no struct in {kind}")


def _subject(names: list[str]) -> str:
    """What is wrong: ['strategy', '2', 'name'] -> "'name' of strategy 2"."""
    if not names:
        return "it"
    *outer, key = names
    entry = ""
    if key.isdigit() and outer:
        entry, (*outer, key) = f"entry {key} of ", outer
    return f"{entry}'{key}'" + (f" of {' '.join(outer)}" if outer else "")
