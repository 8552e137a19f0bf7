"""Files as typed data: what came as JSON or TOML becomes a dataclass or struct, or one sentence on what is wrong with it."""

from __future__ import annotations

import re
from typing import Final, TypeVar

import msgspec

T = TypeVar("T")
KINDS: Final = {
    "str": "a text", "int": "a whole number", "float": "a number", "bool": "true or false", "array": "a list",
    "object": "a table", "null": "nothing", "date": "a date", "datetime": "a time",
}  # fmt: skip
_EXPECTED: Final = re.compile(r"Expected `([^`]+)`(?: of length ([^,]+))?, got `?([^`]+?)`?$")
_MISSING: Final = re.compile(r"Object missing required field `([^`]+)`$")
_UNKNOWN: Final = re.compile(r"Object contains unknown field `([^`]+)`$")


class MisfitError(ValueError):
    """The data does not fit its schema; the text is a clause such as "'name' of strategy 2 must be a text, not a number"."""


def checked(plain: object, kind: type[T]) -> T:
    """``plain`` (dicts, lists, texts, numbers) as ``kind``; no value is turned into another one. Raises MisfitError."""
    try:
        return msgspec.convert(plain, kind, strict=True)
    except msgspec.ValidationError as error:
        raise MisfitError(misfit_words(str(error))) from error
    except (RecursionError, OverflowError) as error:
        raise MisfitError("it is nested too deeply, or holds a number that is too large") from error


def misfit_words(text: str) -> str:
    """A validation error of msgspec as a clause of ours."""
    what, _, where = text.partition(" - at `")
    parts = re.findall(r"\.([^.\[\]`]+)|\[(\d+)\]|\[(\.\.\.)\]", where.rstrip("`").removeprefix("$"))
    names = [f"{int(number) + 1}" if number else "" if dots else name for name, number, dots in parts]
    inside = f" in {' '.join(filter(None, names))}" if any(names) else ""
    if found := _MISSING.match(what):
        return f"'{found[1]}' is missing{inside}"
    if found := _UNKNOWN.match(what):
        return f"there is an unknown key '{found[1]}'{inside}"
    subject = _subject([name for name in names if name])
    if found := _EXPECTED.match(what):
        wanted = " or ".join(KINDS.get(one.strip(), one.strip()) for one in found[1].split("|"))
        length = f" of {found[2]}" if found[2] else ""
        return f"{subject} must be {wanted}{length}, not {KINDS.get(found[3], found[3])}"
    return f"{subject} is not as expected: {what[:1].lower()}{what[1:]}"


def _subject(names: list[str]) -> str:
    """What is wrong: ['strategy', '2', 'name'] -> "'name' of strategy 2"."""
    if not names:
        return "it"
    *outer, key = names
    entry = ""
    if key.isdigit() and outer:
        entry, (*outer, key) = f"entry {key} of ", outer
    return f"{entry}'{key}'" + (f" of {' '.join(outer)}" if outer else "")
