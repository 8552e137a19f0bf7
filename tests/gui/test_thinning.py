"""A live run of hours is held in bounded memory, and no peak, no flicker and no flag of it is lost."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from gui.model.series import TIME, Series
from gui.model.thinning import Thinning
from telemetry.sample import SampleTable
from telemetry.stream.decoder import Decoder

MOST = 1 << 12


def _chunk(first: int, rows: int) -> Any:
    """Rows of a robot that sends 100 a second and stands: one peak and one flicker in 1,000."""
    lines = [b"#t/ms,refl/%,colour/none|red|blue,dist/cm\n"] if not first else []
    for row in range(first, first + rows):
        peak = row % 1000 == 500
        lines.append(b"%d,%d,%d,%d\n" % (row * 10, 90 if peak else 20 + row % 7, row % 1000 == 501, row // 1000))
    return b"".join(lines)


def _run(hours: float, *, forget: int = 3000) -> tuple[Series, int, list[int]]:
    """The series of so long a run, its rows, and the bytes that it held at each step."""
    series, table, decoder = Series(), SampleTable(), Decoder()
    series.thinning = Thinning(most=MOST)
    rows, sizes = int(hours * 360_000), []
    for first in range(0, rows, 1500):
        for chunk in decoder.feed(_chunk(first, min(1500, rows - first)), arrival_us=first * 10_000):
            table.append(chunk)
        series.take(table)
        series.thin()
        if table.rows > forget:
            table.forget(table.rows - forget // 2)
        arrays = [series.time_s, series.way_cm, *series.path_cm, *(series.channel(name) for name in series.channels)]
        assert {len(one) for one in arrays} == {series.rows}
        sizes.append(sum((one if one.base is None else one.base).nbytes for one in arrays))
    return series, rows, sizes


def test_it_stays_flat_however_long_it_is() -> None:
    series, rows, sizes = _run(1.0)
    assert series.taken == rows
    assert series.rows <= MOST + 1500
    half = len(sizes) // 2
    assert max(sizes[half:]) <= max(sizes[:half])
    bytes_a_row = 5 * 8 + 2 * 4  # time, way, distance, light, colour; x and y
    assert max(sizes) <= 2 * (MOST + 1500) * bytes_a_row


def test_peaks_flickers_and_places_stay() -> None:
    series, rows, _ = _run(0.3)
    assert series.thinning.block > 16, "each two blocks became one"
    x, refl, colour = series.time_s, series.channel("refl"), series.channel("colour")
    assert refl is not None
    assert colour is not None
    assert np.all(np.diff(x) > 0)
    assert x[0] == 0
    assert x[-1] == pytest.approx((rows - 1) / 100)
    block = series.thinning.block
    for row in range(500, rows, 1000):
        at = series.index_of(row)
        assert abs(x[at] - row / 100) <= block / 100
        near = slice(max(at - 2, 0), at + 3)
        assert refl[near].max() == 90, row
        assert colour[near].max() == colour.max() > colour.min(), row
    assert refl.min() == 20
    indices = [series.index_of(row) for row in range(rows)]
    assert indices == sorted(indices)
    assert indices[-1] == series.rows - 1
    # The sample that an entry begins with is found at that entry.
    for index in range(0, series.rows, 7):
        assert series.index_of(series.thinning.row_of(index)) == index


def test_old_stretches_have_no_holes() -> None:
    series, _, _ = _run(0.3)
    rows = np.arange(10, series.thinning.old - 10)
    assert not series.broken(rows, TIME).any()


def test_another_palette_fills_what_is_held_as_samples() -> None:
    series, _, _ = _run(0.1)
    codes = np.full(100_000, 1, np.int64)
    series.replace("palette", codes)
    seen = series.channel("palette")
    assert seen is not None
    assert len(seen) == series.rows
    assert (seen[: series.thinning.old] == -1).all()
    assert (seen[series.thinning.old :] == 1).all()


def test_what_is_not_thinned_is_as_it_was() -> None:
    series = Series()
    assert [series.index_of(row) for row in (0, 5, 10_000)] == [0, 5, 10_000]
    series.thin()
    assert series.thinning.times == 0
