"""TOML that people write by hand: read, or one clause on what is wrong with it and what to type instead.

Word processors and phones turn quotes, and half of Europe writes 9,5: both are the commonest slips, so they have their
own words.
"""

from __future__ import annotations

import re
import tomllib
from typing import Any, Final

_PLACE: Final = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
_TURNED: Final = "\N{LEFT DOUBLE QUOTATION MARK}\N{RIGHT DOUBLE QUOTATION MARK}\N{DOUBLE LOW-9 QUOTATION MARK}" \
    "\N{DOUBLE HIGH-REVERSED-9 QUOTATION MARK}\N{LEFT-POINTING DOUBLE ANGLE QUOTATION MARK}" \
    "\N{RIGHT-POINTING DOUBLE ANGLE QUOTATION MARK}\N{LEFT SINGLE QUOTATION MARK}\N{RIGHT SINGLE QUOTATION MARK}" \
    "\N{SINGLE LOW-9 QUOTATION MARK}\N{PRIME}\N{DOUBLE PRIME}\N{ACUTE ACCENT}`"  # fmt: skip
_COMMA: Final = re.compile(r"([\w.\"-]+\s*=\s*[-+]?\d+),(\d+)\s*(?:#.*)?$")
_BARE: Final = re.compile(r"([\w.\"-]+)\s*=\s*([^\W\d][^\"'\[\]{}=#]*?)\s*(?:#.*)?$")
_SHOWN: Final = 60
_NUMBERS: Final = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


class TomlError(ValueError):
    """No TOML. ``what``: a clause with the line; ``todo``: what to type instead, empty where that is not known."""

    def __init__(self, what: str, todo: str = "") -> None:
        super().__init__(what)
        self.what, self.todo = what, todo


def read_toml(text: str) -> dict[str, Any]:
    """The tables of ``text``, with line ends of any system. Raises TomlError."""
    text = text.replace("\r\n", "\n")
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise TomlError("it is nested too deeply") from error
    except ValueError as error:  # also for a number of thousands of digits
        raise _explained(str(error), text) from error


def _explained(said: str, text: str) -> TomlError:
    """The parser's message in a coach's words, where the line shows one of the usual slips."""
    found = _PLACE.search(said)
    plain = f"{said[:1].lower()}{said[1:]}"
    lines = text.rstrip().split("\n")
    if found is None or int(found[1] or 1) > len(lines):
        return TomlError(plain)
    number = int(found[1] or len(lines))
    line = lines[number - 1].strip()
    where, written = f"line {number}", line.partition("#")[0].strip()
    turned = next((mark for mark in written if mark in _TURNED), "")
    if turned:
        straight = re.sub(f"[{_TURNED}]", '"', written if len(written) <= _SHOWN else f"{written[:_SHOWN]}...")
        todo = f"Type straight quotes, in a plain text editor: {straight}"
        return TomlError(f"{where} has a quotation mark {turned} that TOML does not know", todo)
    if comma := _COMMA.match(line):
        return TomlError(f"{where} has a decimal comma", f"Type a point: {comma[1]}.{comma[2]}")
    if bare := _BARE.match(line):
        return TomlError(*_without_quotes(bare[1], bare[2], where))
    return TomlError(plain)


def _without_quotes(key: str, value: str, where: str) -> tuple[str, str]:
    if value.lower() in {"true", "false"}:
        return f"{where} has {value}", f"Type small letters: {key} = {value.lower()}"
    if value.lower() in _NUMBERS:
        return f"{where} has a number in words", f"Type it in digits: {key} = {_NUMBERS.index(value.lower())}"
    return f"{where} has a text without quotes", f'Type {key} = "{value}"'
