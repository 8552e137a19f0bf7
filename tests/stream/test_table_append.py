"""A table that grows by chunks."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from telemetry.sample import Chunk, Columns, SampleTable


def chunk(rows: int, first: int, names: list[str]) -> Chunk:
    columns: Columns = {"t_us": np.arange(first, first + rows, dtype=np.int64)}
    for name in names:
        kind = np.int16 if name == "colour" else np.float64
        columns[name] = np.arange(first, first + rows).astype(kind)
    return Chunk(columns, rows, ("none",), lost=rows, ranges={"red": (0.0, float(first))}, units={"x": "m"})


PARTS = st.tuples(st.integers(0, 900), st.lists(st.sampled_from(["refl", "colour", "x"]), unique=True))


@given(st.lists(PARTS, max_size=12))
def test_the_same_as_putting_all_together(parts: list[tuple[int, list[str]]]) -> None:
    table = SampleTable()
    expected: dict[str, list[float]] = {name: [] for name in ("t_us", "refl", "colour", "x")}
    handed_out: list[tuple[np.ndarray, list[float]]] = []
    row = 0
    for rows, names in parts:
        table.append(chunk(rows, row, names))
        values = [float(value % 32768) for value in range(row, row + rows)]
        for name, column in expected.items():
            missing = -1.0 if name == "colour" else np.nan
            column.extend(values if name in {"t_us", *names} else [missing] * rows)
        row += rows
        handed_out.extend((column, expected[name][:]) for name, column in table.columns.items())
    assert table.rows == table.lost == row
    for name, column in table.columns.items():
        np.testing.assert_array_equal(column, np.array(expected[name]))
    for view, then in handed_out:
        np.testing.assert_array_equal(view, np.array(then))


def test_a_table_read_whole_may_grow_on() -> None:
    whole: Columns = {"t_us": np.array([1, 2], dtype=np.int64), "refl": np.array([3.0, 4.0])}
    table = SampleTable(dict(whole), 2)
    table.append(Chunk({"t_us": np.array([5], dtype=np.int64)}, 1, ("none", "rust"), remarks=("one",)))
    np.testing.assert_array_equal(table.columns["t_us"], [1, 2, 5])
    np.testing.assert_array_equal(table.columns["refl"], [3.0, 4.0, np.nan])
    assert whole["t_us"].tolist() == [1, 2]
    assert table.colours == ("none", "rust")
    assert table.remarks == ["one"]


def test_growing_moves_samples_seldom() -> None:
    table = SampleTable()
    moves = 0
    base = None
    for i in range(5000):
        table.append(chunk(2, 2 * i, ["refl"]))
        moves += table.columns["refl"].base is not base
        base = table.columns["refl"].base
    assert table.rows == 10_000
    assert moves < 10
