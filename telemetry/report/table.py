"""Tables of plain text that line up in every console, at most 100 columns wide."""

from __future__ import annotations

import sys
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TextIO

from telemetry.safe_text import printable

__all__ = ["WIDTH", "TableColumn", "can_encode", "cut", "define", "printable", "show", "strip", "table", "width_of", "wrap"]

WIDTH = 100
_PLAIN = str.maketrans({"●": "o", "━": "=", "·": ".", "─": "-", "…": "~", "–": "-", "±": "+", "→": ">"})


@dataclass(frozen=True, slots=True)
class TableColumn:
    """One column: its heading, and whether its cells end at the right (numbers) or begin at the left (words).

    ``fixed``: words that must not be cut.
    """

    heading: str
    right: bool = False
    fixed: bool = False


def width_of(text: str) -> int:
    """How many places of a console the text takes: wide East Asian characters take two, combining ones none."""
    if text.isascii():
        return len(text)
    places = 0
    for one in text:
        if unicodedata.combining(one):
            continue
        places += 2 if unicodedata.east_asian_width(one) in "WF" else 1
    return places


def table(columns: Sequence[TableColumn], rows: Sequence[Sequence[str]], indent: str = "") -> list[str]:
    """Lines of a table: headings, a rule, rows. Words are cut where the whole would be wider than WIDTH."""
    cells = [[column.heading for column in columns], *([printable(cell) for cell in row] for row in rows)]
    widths = [max(width_of(row[i]) for row in cells) for i in range(len(columns))]
    spare = WIDTH - len(indent) - sum(widths) - 2 * (len(columns) - 1)
    words = [i for i, column in enumerate(columns) if not column.right and not column.fixed]
    while spare < 0 and words:
        longest = max(words, key=lambda i: widths[i])
        if widths[longest] <= 8:
            break
        widths[longest] -= 1
        spare += 1
    lines = [_line(row, columns, widths, indent) for row in cells]
    rule = indent + "  ".join("─" * width for width in widths)
    return [lines[0], rule, *lines[1:]]


def _line(cells: Sequence[str], columns: Sequence[TableColumn], widths: Sequence[int], indent: str) -> str:
    placed = [_place(cell, widths[i], column.right) for i, (cell, column) in enumerate(zip(cells, columns, strict=True))]
    return (indent + "  ".join(placed)).rstrip()


def _place(cell: str, width: int, right: bool) -> str:
    text = cut(cell, width)
    gap = " " * (width - width_of(text))
    return gap + text if right else text + gap


def cut(text: str, width: int) -> str:
    """The text, or as much of it as fits with an ellipsis."""
    if width_of(text) <= width:
        return text
    kept = ""
    for one in text:
        if width_of(kept + one) > width - 1:
            break
        kept += one
    return kept + "…"


def wrap(text: str, indent: str = "", width: int = WIDTH) -> list[str]:
    """A sentence over as many lines as it needs; the first line begins with ``indent``, the others two places further."""
    lines: list[str] = []
    line = indent
    for word in text.split():
        if line.strip() and width_of(line) + 1 + width_of(word) > width:
            lines.append(line.rstrip())
            line = f"{indent}  {word}"
        else:
            line = f"{line} {word}" if line.strip() else f"{line}{word}"
    return [*lines, line.rstrip()]


def define(term: str, text: str, indent: str = "  ", column: int = 17) -> list[str]:
    """A term, and beside it from ``column`` on what it means, over as many lines as that needs."""
    margin = indent + " " * column
    lines = [line if i == 0 else margin + line.strip() for i, line in enumerate(wrap(text, margin, WIDTH - 2))]
    gap = " " * max(2, column - width_of(term))
    return [f"{indent}{term}{gap}{lines[0].strip()}", *lines[1:]]


def strip(low: float, rate: float, high: float, width: int = 20) -> str:
    """A range from 0 to 1 as a strip: where the rate is, and how far it may be off: ``····━━━●━━····``."""
    places = [min(width - 1, max(0, round(value * (width - 1)))) for value in (low, rate, high)]
    marks = ["━" if places[0] <= i <= places[2] else "·" for i in range(width)]
    marks[places[1]] = "●"
    return "".join(marks)


def show(lines: Sequence[str], stream: TextIO | None = None) -> None:
    """Print, with plain characters where the console cannot encode ours."""
    out = stream or sys.stdout
    text = "\n".join(lines)
    if not can_encode(text, out):
        encoding = out.encoding or "ascii"
        text = text.translate(_PLAIN).encode(encoding, "replace").decode(encoding)
    print(text, file=out)


def can_encode(text: str, stream: TextIO) -> bool:
    """Whether the stream takes every character of ``text``."""
    try:
        text.encode(stream.encoding or "utf-8")
    except (UnicodeEncodeError, LookupError):
        return False
    return True
