"""How long a run lasted: by the arrival of its lines, or by the robot's clock where the lines came all at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from telemetry.recording.assemble import StreamSummary

AT_ONCE = 0.1
"""Lines that arrived in less than this part of the robot's own time were kept and handed over: a file, a fetched run."""


def arrived_s(summary: StreamSummary) -> float:
    """From the first line's arrival to the last one's."""
    return (summary.last_us - summary.first_us) / 1e6


def duration_s(summary: StreamSummary, columns: Mapping[str, Any]) -> float:
    """``columns``: those of the run, ``t_us`` and ``boot`` among them. What passed between two starts is not known."""
    arrived = arrived_s(summary)
    robot = robot_s(columns)
    return robot if arrived < AT_ONCE * robot else arrived


def robot_s(columns: Mapping[str, Any]) -> float:
    """By the robot's clock, each of its starts for itself."""
    if "t_us" not in columns or len(columns["t_us"]) < 2:
        return 0.0
    t_us = np.asarray(columns["t_us"][:], dtype=np.int64)
    boot = np.asarray(columns["boot"][:], dtype=np.int64) if "boot" in columns else np.zeros(len(t_us), np.int64)
    steps = np.diff(t_us)[np.diff(boot) == 0]
    return float(steps[steps > 0].sum()) / 1e6
