"""The beginning of a run of hours: shown at once, while the rest is read and checked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from gui.model.channels import Names
from gui.model.series import Series
from telemetry.sample import SampleTable

if TYPE_CHECKING:
    from pathlib import Path

    from telemetry.recording.load import Recording

ROWS: Final = 1 << 17
"""Two minutes at 1 kHz."""


@dataclass(frozen=True, slots=True)
class Beginning:
    """``series``: the first samples, of ``of_rows`` in all. Nothing is read by a strategy, so nothing is said of the run."""

    path: Path
    title: str
    series: Series
    names: Names
    of_rows: int


def beginning_of(recording: Recording, rows: int = ROWS) -> Beginning:
    """Reads no more than it shows; takes a twentieth of a second."""
    table = recording.table
    rows = min(rows, table.rows)
    first = SampleTable(
        {name: np.asarray(column[:rows]) for name, column in table.columns.items()}, rows, table.colours, units=table.units
    )
    names = Names(table.colours, table.colours)
    return Beginning(recording.path, recording.meta.name or recording.path.stem, Series.whole(first), names, table.rows)
