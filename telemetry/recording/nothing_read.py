"""A text in which nothing is a sample: no recording is kept of it, and why it gave none is said."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

from telemetry.errors import StreamError
from telemetry.recording.load import load
from telemetry.stream.columns import UNITS

_FIELDS = re.compile(r"wrong number of fields: (\d+) instead of (\d+)")


def take_back(path: Path, text: Path) -> StreamError:
    """Remove the recording that was just made of ``text``, so that its name is free for a better try; the error to raise."""
    table = load(path).table
    path.unlink()
    likely = _looks_like(text)
    if likely:
        return StreamError("no line of it is a sample, so there is no recording", where=str(text), todo=likely)
    reasons = Counter(line.reason for line in table.rejected).most_common(1)
    if not reasons:
        todo = "A robot that sends no header needs --columns; what a stream looks like is in the guide's page on formats."
        return StreamError("no line of it is a sample, so there is no recording", where=str(text), todo=todo)
    reason, lines = reasons[0]
    todo = " ".join(table.remarks[:3]) or "The guide's page on formats says what a stream looks like."
    misfit = _FIELDS.match(reason)
    if misfit:
        values, names = (int(number) for number in misfit.groups())
        reason = f"{values} values, {names} names"
        todo = f"--columns, or the robot's header, must name each of the {values} values, in their order."
        if values > names and not any(b"." in line.raw or b";" in line.raw for line in table.rejected[:_MOST_LOOKED_AT]):
            todo += " If 0,5 stands for half in it, type a point there, or semicolons between the values and in --columns."
    return StreamError(
        f"no line of it is a sample, so there is no recording ({lines} rejected: {reason})",
        where=str(text), todo=todo,
    )  # fmt: skip


_MOST_LOOKED_AT = 1000
_BEGIN_BYTES = 4096
_QUANTITIES = frozenset({*UNITS, "n", "colour", "red", "green", "blue"})


def _looks_like(text: Path) -> str:
    """What to do about a text whose first line is a table's heading rather than a robot's header; empty for all others."""
    with text.open("rb") as file:
        begin = file.read(_BEGIN_BYTES)
    lines = begin.decode("utf-8-sig", "replace").splitlines()
    first = next((line.strip() for line in lines if line.strip()), "")
    if first.startswith("t/us,arrival/us"):
        return "This is an exported recording: sidelong export --back makes one of it again."
    if first.startswith("#"):
        return ""
    separator = max(",;\t", key=first.count)
    names = [name.strip().strip('"').strip() for name in first.split(separator)]
    known = [name for name in names if re.split(r"[/.]", name)[0] in _QUANTITIES]
    labelled = re.match(r"\s*([A-Za-z_]\w*\s*[=:])\s*[-+\d.]", first)
    if labelled:
        return f"Values are bare numbers with commas between, such as 10,128,132: let the robot leave out '{labelled[1]}'."
    quoted = "the quotation marks taken away, " if '"' in first else ""
    if "t" in {re.split(r"[/.]", name)[0] for name in known} and len(known) >= 2:
        return f"Its first line names columns as a header does: save it with {quoted}commas between, and # before that line."
    return "Its values stand in quotation marks: save it without them." if quoted and first.count('"') > 2 else ""
