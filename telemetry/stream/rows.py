"""Samples on their way from lines to columns: gathered one by one or in blocks, given out as one set of arrays."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from telemetry.sample import Columns
from telemetry.stream.columns import Header

Ints = NDArray[np.int64]
Values = NDArray[np.float64]


class Rows:
    """The samples under one header. ``values``: one number a column of the header, in its order and its units.

    Times and running numbers come apart from them, as whole numbers with wraps taken out.
    """

    def __init__(self, header: Header) -> None:
        self._plan = [
            (i, column.name, column.kind == "colour", *column.scale)
            for i, column in enumerate(header.columns)
            if column.kind not in {"t", "n"}
        ]
        self._counted = header.first("n") is not None
        self._counters: list[tuple[int, int, int]] = []
        self._lines: list[list[float]] = []
        self._blocks: list[Columns] = []
        self._arrivals: list[tuple[int, int]] = []
        self.rows = 0

    def add(self, t_us: int, n: int, boot: int, values: list[float]) -> None:
        """One line."""
        self._counters.append((t_us, n, boot))
        self._lines.append(values)
        self.rows += 1

    def add_block(self, t_us: Ints, n: Ints | None, boot: Ints, values: list[Values]) -> None:
        """Many lines: ``values`` has one array of shape (rows,) a column of the header."""
        self._gather()
        self._blocks.append(self._columns(t_us, n, boot, values))
        self.rows += len(t_us)

    def arrived(self, arrival_us: int) -> None:
        """All that was gathered since the last call arrived at this time."""
        before = self._arrivals[-1][0] if self._arrivals else 0
        if self.rows > before:
            self._arrivals.append((self.rows, arrival_us))

    def take(self, arrival_us: int) -> Columns:
        """Everything gathered, as columns; empty afterwards. ``arrival_us`` goes to what has no time of arrival yet."""
        self.arrived(arrival_us)
        self._gather()
        blocks, arrivals = self._blocks, np.array(self._arrivals, dtype=np.int64)
        self._blocks, self._arrivals, self.rows = [], [], 0
        # arrival_us stands there already, for the order of the columns alone.
        columns = blocks[0] if len(blocks) == 1 else {name: np.concatenate([b[name] for b in blocks]) for name in blocks[0]}
        columns["arrival_us"] = np.repeat(arrivals[:, 1], np.diff(arrivals[:, 0], prepend=0))
        return columns

    def _gather(self) -> None:
        if not self._lines:
            return
        counters = np.array(self._counters, dtype=np.int64).T
        values = np.array(self._lines, dtype=np.float64).T
        self._blocks.append(self._columns(counters[0], counters[1], counters[2], values))
        self._counters, self._lines = [], []

    def _columns(self, t_us: Ints, n: Ints | None, boot: Ints, values: Any) -> Columns:
        columns: Columns = {"t_us": t_us, "boot": boot, "arrival_us": t_us}
        if self._counted and n is not None:
            columns["n"] = n
        for i, name, colour, multiply, divide in self._plan:
            column = values[i]
            if colour:
                columns[name] = column.astype(np.int16)
                continue
            # Infinity is what some sensors send for 'nothing in sight': no number either.
            if not np.isfinite(column).all():
                column = np.where(np.isfinite(column), column, np.nan)
            if multiply != 1:
                column = column * multiply
            columns[name] = column / divide if divide != 1 else column
        return columns


def no_samples() -> Columns:
    """The columns of a chunk without samples."""
    return {name: np.empty(0, dtype=np.int64) for name in ("t_us", "boot", "arrival_us")}
