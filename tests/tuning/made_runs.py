"""Simulated runs as saved runs, for the tests of tuning."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from telemetry.calibrate.files import table_from_text
from telemetry.palette_default import default_palette
from telemetry.sources.synthetic.levels import LEVELS
from telemetry.sources.synthetic.physics import Physics
from telemetry.sources.synthetic.run import simulate
from telemetry.tuning.runs import SavedRun

PALETTE = default_palette()


def physics_of(level: str, **changes: Any) -> Physics:
    """The level's numbers with changes."""
    return replace(LEVELS[level].physics, **changes)


def made(level: str, seed: int, physics: Physics | None = None, **options: Any) -> SavedRun:
    """One simulated run."""
    run = simulate(level, seed, physics=physics, **options)
    table = table_from_text(run.data, f"{level} {seed}")
    day = f"2026-01-{seed % 3 + 1:02}"
    return SavedRun(f"{level}-{seed:02}", table, run.course, run.truth, PALETTE, day=day, simulated=True)
