"""Notes, rejected lines and console text as one table of text: readable by people, exact for us.

One line an event, tab-separated: kind, samples before it, arrival in us, robot's clock in us (empty where the line gave
none), reason, text. Tab, line end, backslash, control characters and bytes that are no UTF-8 are backslash escapes.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from telemetry.sample import Line, Note

HEADING: Final = b"kind\tsample\ttime_us\trobot_time_us\treason\ttext\n"
NOTE, REJECTED, CONSOLE = b"note", b"rejected", b"console"

_TO_ESCAPE: Final = re.compile(rb"[\x00-\x1f\\\x7f]")
_ESCAPED: Final = re.compile(rb"\\(?:x([0-9a-f]{2})|(\\))")


def note_row(note: Note) -> bytes:
    """A note as one line of the table."""
    return b"note\t%d\t%d\t%d\t\t%s\n" % (
        note.row,
        note.arrival_us,
        note.t_us,
        _escaped(note.text.encode("utf-8", "surrogateescape")),
    )


def line_row(kind: bytes, line: Line) -> bytes:
    """A rejected or console line as one line of the table."""
    reason = _escaped(line.reason.encode("utf-8", "surrogateescape"))
    return b"%s\t%d\t%d\t\t%s\t%s\n" % (kind, line.row, line.arrival_us, reason, _escaped(line.raw))


def read_rows(rows: Iterable[bytes]) -> tuple[list[Note], list[Line], list[Line]]:
    """Notes, rejected and console lines from the table's lines, heading left out. Raises ValueError."""
    notes: list[Note] = []
    rejected: list[Line] = []
    console: list[Line] = []
    for row in rows:
        kind, sample, time_us, robot_us, reason, text = row.split(b"\t")
        if kind == NOTE:
            plain = _plain(text).decode("utf-8", "surrogateescape")
            notes.append(Note(int(sample), int(robot_us), int(time_us), plain))
        elif kind in {REJECTED, CONSOLE}:
            line = Line(int(sample), int(time_us), _plain(text), _plain(reason).decode("utf-8", "surrogateescape"))
            (rejected if kind == REJECTED else console).append(line)
    return notes, rejected, console


def _escaped(data: bytes) -> bytes:
    data = _TO_ESCAPE.sub(lambda found: b"\\\\" if found[0] == b"\\" else b"\\x%02x" % found[0][0], data)
    if data.isascii():
        return data
    return data.decode("utf-8", "backslashreplace").encode()


def _plain(data: bytes) -> bytes:
    if b"\\" not in data:
        return data
    return _ESCAPED.sub(lambda found: b"\\" if found[2] else bytes([int(found[1], 16)]), data)
