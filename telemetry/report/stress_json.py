"""Margins as JSON, in the documented form (gui/guide/formats.md)."""

from __future__ import annotations

from typing import Any

from telemetry.safe_text import for_json
from telemetry.tuning.pairs import DirectionPair
from telemetry.tuning.stress import Margin, Stress


def stress_json(found: Stress) -> str:
    """The whole document."""
    document = {
        "stress": {
            "strategy": found.strategy, "runs": found.runs, "judged": found.judged, "simulated": found.simulated,
            "altered": True, "margins": [_margin(one) for one in found.margins],
            "pairs": [_pair(one) for one in found.pairs],
            "rests_on_dark": list(found.rests_on_dark),
            "not_possible": [{"of": name, "why": why} for name, why in found.not_possible],
        }
    }  # fmt: skip
    return for_json(document, indent=1)


def _margin(one: Margin) -> dict[str, Any]:
    return {
        "of": one.of, "unit": one.unit, "recorded": _short(one.recorded), "right_up_to": _short(one.right_up_to),
        "interval95": None if one.interval95 is None else [_short(end) for end in one.interval95],
        "first_failure": _failure(one.first_failure),
        "searched_to": _short(one.searched_to), "what": one.what,
        "tried": [[_short(value), _short(share)] for value, share in zip(one.values, one.shares, strict=True)],
    }  # fmt: skip


def _pair(one: DirectionPair) -> dict[str, Any]:
    return {
        "of": one.first, "with": one.second, "values": [_short(value) for value in one.first_values],
        "with_values": [_short(value) for value in one.second_values],
        "right_up_to": [_short(end) for end in one.right_up_to],
        "shares": [[_short(share) for share in row] for row in one.shares], "first_failure": _failure(one.first_failure),
        "uneven": None if one.uneven is None else {
            "fails_at": [_short(value) for value in one.uneven[0]], "right_at": [_short(value) for value in one.uneven[1]],
        },
    }  # fmt: skip


def _failure(found: tuple[str, str] | None) -> dict[str, str] | None:
    return None if found is None else {"recording": found[0], "slot": found[1]}


def _short(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.4g}")
