"""A text in which nothing is a sample: no recording is kept of it, and why it gave none is said."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

from telemetry.errors import StreamError
from telemetry.recording.load import load

_FIELDS = re.compile(r"wrong number of fields: (\d+) instead of (\d+)")


def take_back(path: Path, text: Path) -> StreamError:
    """Remove the recording that was just made of ``text``, so that its name is free for a better try; the error to raise."""
    table = load(path).table
    path.unlink()
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
    return StreamError(
        f"no line of it is a sample, so there is no recording ({lines} rejected: {reason})",
        where=str(text), todo=todo,
    )  # fmt: skip
