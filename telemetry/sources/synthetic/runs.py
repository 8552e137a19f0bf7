"""Several runs in a row by one robot: same words, next seed, its clock and line numbers going on."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches
from itertools import count
from typing import Any
from urllib.parse import parse_qsl

from telemetry.errors import UsageError
from telemetry.sources.synthetic.levels import LEVELS
from telemetry.sources.synthetic.run import SimulatedRun, simulate

_SWITCHES = ("codes_only", "raw_only", "two_sensors", "reversing", "number_codes", "checksum", "read_notes")
_NUMBERS = ("seed", "runs", "day", "stop_ms", "speed_up")


def runs_in_a_row(
    level: str, seed: int, runs: int | None, rest_ms: float = 1500.0, **options: Any
) -> Iterator[SimulatedRun]:
    """``runs`` runs with the seeds ``seed``, ``seed + 1``, ...; None: for ever. The robot is not switched off in between.

    Before and after each it rests for ``rest_ms`` where there are several, so that runs can be told apart.
    """
    clock_ms: int | None = None
    lines = 0
    for number in count() if runs is None else range(runs):
        rest = 0.0 if runs == 1 else rest_ms
        run = simulate(level, seed + number, rest_ms=rest, clock_ms=clock_ms, first_n=lines, **options)
        clock_ms = int(run.sample_ms[-1]) + 10
        lines += len(run.sample_ms)
        yield run


def parse_robot(spec: str) -> dict[str, Any]:
    """``venue?seed=1&codes_only&runs=3`` as arguments for ``runs_in_a_row`` and ``speed_up``. Raises UsageError."""
    level, _, query = spec.partition("?")
    asked: dict[str, Any] = {"level": level or "practice", "seed": 0, "runs": 1, "speed_up": 1.0}
    if asked["level"] not in LEVELS:
        raise UsageError(f"there is no level '{level}'", where=f"robot:{spec}", todo=f"The levels are {', '.join(LEVELS)}.")
    for key, value in parse_qsl(query, keep_blank_values=True):
        name = key.replace("-", "_")
        if name in _SWITCHES:
            asked[name] = value.lower() not in {"0", "no", "off", "false"}
        elif name in _NUMBERS:
            try:
                asked[name] = float(value) if name == "speed_up" else int(value)
            except ValueError:
                raise UsageError(f"'{key}' is not a number: '{value}'", where=f"robot:{spec}") from None
        else:
            known = ", ".join((*_NUMBERS, *_SWITCHES))
            near = get_close_matches(key, (*_NUMBERS, *_SWITCHES), n=1)
            todo = f"Did you mean '{near[0]}'? There are: {known}." if near else f"There are: {known}."
            raise UsageError(f"there is no option '{key}'", where=f"robot:{spec}", todo=todo)
    if asked["runs"] < 1 or asked["speed_up"] <= 0:
        raise UsageError("'runs' must be at least 1, and 'speed_up' above 0", where=f"robot:{spec}")
    return asked
