"""The map of a sweep over the two settings that tell most, thinned so that it can be shown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from telemetry.tuning.tune import Tuning


@dataclass(frozen=True, slots=True)
class TuneMap:
    """``right[i][k]``: runs right at ``rows[i]`` of the setting ``down`` and ``columns[k]`` of ``across``, others as
    recommended. ``recommended``: (i, k) nearest to it; ``today``: (i, k), None where today's values were not swept.
    """

    down: str
    across: str
    rows: tuple[int, ...]
    columns: tuple[int, ...]
    right: tuple[tuple[int, ...], ...]
    recommended: tuple[int, int]
    today: tuple[int, int] | None


def map_of(found: Tuning, most: int) -> TuneMap | None:
    """At most about ``most`` values each way; None where fewer than two settings were swept, or not all of a grid."""
    if found.map is None or len(found.axes) < 2:
        return None
    down, across = found.axes[0], found.axes[1]
    flat = found.map
    for axis in reversed(found.axes[2:]):
        flat = flat[..., _nearest(axis.values, found.recommended.settings[axis.name])]
    chosen = [_nearest(axis.values, found.recommended.settings[axis.name]) for axis in (down, across)]
    rows = _some(down.values, most, chosen[0], _nearest(down.values, down.now))
    columns = _some(across.values, most, chosen[1], _nearest(across.values, across.now))
    swept = down.now in down.values and across.now in across.values
    return TuneMap(
        down.name, across.name, tuple(down.values[i] for i in rows), tuple(across.values[k] for k in columns),
        tuple(tuple(int(flat[i, k]) for k in columns) for i in rows), (rows.index(chosen[0]), columns.index(chosen[1])),
        (rows.index(down.values.index(down.now)), columns.index(across.values.index(across.now))) if swept else None,
    )  # fmt: skip


def _nearest(values: Sequence[int], value: int) -> int:
    return min(range(len(values)), key=lambda k: abs(values[k] - value))


def _some(values: Sequence[int], most: int, *kept: int) -> list[int]:
    """Places of at most about ``most`` values, those of ``kept`` among them."""
    step = max(1, -(-len(values) // most))
    return sorted({*range(0, len(values), step), *kept})
