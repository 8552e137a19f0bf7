"""A table from some row on: what a reading logic sees that starts there."""

from __future__ import annotations

from dataclasses import replace

from telemetry.sample import SampleTable


def tail(table: SampleTable, row: int) -> SampleTable:
    """The rows from ``row`` on (as the stream counts them), as views; they are counted from 0 again.

    Where some of them are forgotten already, ``first`` of the tail says how many.
    """
    if row <= 0:
        return table
    cut = min(max(0, row - table.first), table.rows)
    columns = {name: column[cut:] for name, column in table.columns.items()}
    notes = [replace(note, row=note.row - row) for note in table.notes if note.row >= row]
    return SampleTable(
        columns=columns, rows=table.rows - cut, first=max(0, table.first - row), colours=table.colours, notes=notes,
        ranges=table.ranges, units=table.units,
    )  # fmt: skip
