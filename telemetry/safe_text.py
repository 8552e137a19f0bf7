"""Text that others wrote, on its way out: one function for each way.

Names, remarks and colours come from robots and from files of anybody's. On a terminal a control character moves the cursor,
a direction mark turns a line round; in a spreadsheet a cell may be a formula; in generated code a line end begins a
statement. (For HTML see ``report/page/markup.text``, for the window ``gui/plain_text.py``; both build on this.)
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final, TextIO, cast

REPLACEMENT: Final = "�"
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "'")
_WORD: Final = re.compile(r"[^\n\t]+")


def printable(text: str) -> str:
    """For one line of a console: no control characters, line breaks or direction marks."""
    return text if text.isprintable() else "".join(one if one.isprintable() else REPLACEMENT for one in text)


def for_terminal(text: str) -> str:
    """The same of many lines: line ends and tabs stay."""
    return text if text.isprintable() else _WORD.sub(lambda found: printable(found[0]), text)


def for_cell(text: str) -> str:
    """For a cell of a CSV file: a word that a spreadsheet would run gets an apostrophe before it (OWASP, CSV injection)."""
    return f"'{text}" if text.startswith(_FORMULA) else text


def from_cell(cell: str) -> str:
    """What ``for_cell`` was given."""
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(_FORMULA) else cell


def for_toml(text: str) -> str:
    """A TOML string in quotes; what is not printable as escapes, so that nobody reads another text than the program."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(one if one.isprintable() else f"\\U{_scalar(one):08x}" for one in escaped) + '"'


def for_json(plain: Any, *, indent: int | None = None) -> str:
    """JSON with a line end; what is not printable as escapes, which come back as what they were."""
    text = _escaped(json.dumps(plain, ensure_ascii=False, allow_nan=False))
    if indent:
        from msgspec.json import format as indented

        try:
            # Many times as fast as json's own, which is written in Python.
            text = indented(text, indent=indent)
        except ValueError:  # it does not know half characters
            text = "\n".join(map(_escaped, json.dumps(plain, ensure_ascii=False, indent=indent).split("\n")))
    return text + "\n"


def _escaped(text: str) -> str:
    return text if text.isprintable() else "".join(one if one.isprintable() else _json_escape(one) for one in text)


def _json_escape(one: str) -> str:
    return json.dumps(one)[1:-1]


def _scalar(one: str) -> int:
    """TOML knows no half characters."""
    return ord(one) if not 0xD800 <= ord(one) < 0xE000 else ord(REPLACEMENT)


class Guarded:
    """A text stream to which nothing but printable text goes; ``unguarded`` is what it stands for."""

    def __init__(self, stream: TextIO) -> None:
        self.unguarded = stream

    def write(self, text: str) -> int:
        """As ``io``."""
        self.unguarded.write(for_terminal(text))
        return len(text)

    def writelines(self, lines: Any) -> None:
        """As ``io``."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.unguarded, name)


def over_the_line(text: str, stream: TextIO) -> None:
    """Words of ours that take the place of the line that stands there: progress, on a terminal only."""
    plain: TextIO = getattr(stream, "unguarded", stream)
    plain.write(f"\r{printable(text)}")
    plain.flush()


@contextmanager
def guarded_output() -> Iterator[None]:
    """While the block lasts, all that is printed goes through ``for_terminal``."""
    before = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = (cast("TextIO", one if isinstance(one, Guarded) else Guarded(one)) for one in before)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


def as_typed(path: Path) -> str:
    """A path as it is typed into a shell."""
    return f'"{path}"' if " " in str(path) else str(path)
