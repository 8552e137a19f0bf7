"""From columns of values to the lines a robot prints, each at its time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from telemetry.stream.line import finished

HEADER_EVERY_MS = 1000.0


def texts(values: NDArray[np.float64], digits: int, missing: NDArray[np.bool_] | None = None) -> list[str]:
    """Each value with ``digits`` decimals; empty where missing. Values are rounded before they are printed, never -0."""
    if digits == 0:
        printed = [str(value) for value in np.round(values).astype(np.int64).tolist()]
    else:
        printed = [f"{value:.{digits}f}" for value in (np.round(values, digits) + 0.0).tolist()]
    if missing is not None:
        for row in np.flatnonzero(missing).tolist():
            printed[row] = ""
    return printed


def data_lines(columns: Sequence[list[str]]) -> list[str]:
    """One line a row."""
    return [",".join(fields) for fields in zip(*columns, strict=True)]


def stream(
    preface: Sequence[str],
    data: Sequence[str],
    at_ms: NDArray[np.float64],
    notes: Sequence[tuple[float, str]],
    *,
    checksum: bool,
) -> tuple[tuple[bytes, ...], NDArray[np.float64]]:
    """All lines in the order they leave the robot, and when each does (ms since the start of the program).

    ``preface`` (header, codes, ranges) comes first and again every second; a note comes before the data of its time.
    Raises StreamError where a line gets too long, as for a course with many sensors.
    """
    rows = [(float(at), 2, number, line) for number, (at, line) in enumerate(zip(at_ms.tolist(), data, strict=True))]
    rows += [(at, 1, number, text) for number, (at, text) in enumerate(notes)]
    first = float(at_ms[0]) if len(at_ms) else 0.0
    last = float(at_ms[-1]) if len(at_ms) else 0.0
    for number, second in enumerate(np.arange(first, last + 1.0, HEADER_EVERY_MS).tolist()):
        rows += [(second, 0, number * len(preface) + place, line) for place, line in enumerate(preface)]
    rows.sort()
    return tuple(finished(row[3], check=checksum) for row in rows), np.array([row[0] for row in rows])
