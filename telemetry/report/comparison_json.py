"""A comparison as JSON, in the documented form."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from telemetry.course import EMPTY
from telemetry.findings import Finding
from telemetry.replay.readings import ASSUMED, INFERRED, MISSING_READING, Reading
from telemetry.replay.scoring.results import Result, StrategySummary
from telemetry.replay.scoring.score import Outcome
from telemetry.safe_text import for_json

Json = dict[str, Any]


def comparison_json(
    results: Sequence[Result],
    summaries: Sequence[StrategySummary],
    robot: Sequence[Result] = (),
    own: StrategySummary | None = None,
) -> str:
    """The whole document. ``robot``: the robot's own readings, which stand apart so that ``runs`` holds strategies only."""
    document: Json = {"runs": [run_json(one) for one in results], "strategies": [summary_json(one) for one in summaries]}
    if own is not None:
        document["robot"] = {"runs": [run_json(one) for one in robot], "summary": summary_json(own)}
    return for_json(document, indent=1)


def run_json(result: Result) -> Json:
    """One strategy on one run. ``outcome`` and ``correct`` are null where the truth is not known."""
    run = result.run
    silent = result.outcome in {Outcome.NOT_APPLICABLE, Outcome.DIVERGES}
    errors = result.score.errors if result.score and not silent else None
    out: Json = {
        "recording": run.recording,
        "strategy": result.strategy,
        "outcome": result.outcome.value if result.outcome else None,
        "correct": result.score.correct if result.score and not silent else (False if silent else None),
        "readings": [reading_json(name, reading) for name, reading in zip(run.slots, result.taken.slots, strict=True)],
        "surplus": [
            {"colour": one.colour, "t_ms": one.t_ms, "dist_cm": _rounded(one.dist_cm)} for one in result.taken.surplus
        ],
        "errors": {
            "missed": errors.missed if errors else 0, "wrong": errors.wrong if errors else 0,
            "repeated": errors.repeated if errors else 0, "extra": errors.extra if errors else 0,
        },
        "decided_ms": result.decided_ms,
        "run_ms": run.run_ms,
        "why": "; ".join(result.why),
        "findings": [finding_json(one) for one in result.findings],
    }  # fmt: skip
    if result.score and result.score.points is not None and not silent:
        out["points"] = result.score.points
    if result.verdict is not None:
        one = result.verdict
        out["verdict"] = {
            "kind": one.kind.value, "why": one.why, "read": list(one.read), "figures": one.figures,
            "findings": [finding_json(finding) for finding in one.findings],
        }  # fmt: skip
    if run.truth is not None:
        out["truth"] = list(run.truth)
    return out


def finding_json(finding: Finding) -> Json:
    """What was found, as data: ``kind`` keeps its name whatever words say it; numbers that are not known are left out."""
    numbers = {name: _plain(value) for name, value in finding.numbers.items() if value is not None}
    out: Json = {"kind": finding.kind.name.lower(), "slot": finding.slot, "cause": finding.cause, "numbers": numbers}
    return out | ({"because": finding_json(finding.because)} if finding.because is not None else {})


def _plain(value: object) -> object:
    if type(value) is str or type(value) is int:  # most are
        return value
    if isinstance(value, float):
        return round(value, 4) if math.isfinite(value) else None
    if isinstance(value, tuple | list):
        return [_plain(one) for one in value]
    return {str(key): _plain(one) for key, one in value.items()} if isinstance(value, Mapping) else value


def reading_json(slot: str, reading: Reading) -> Json:
    """One slot; ``empty`` where it was decided that nothing stands there.

    What was assumed because the run had to go on counts as inferred, and says so in a key of its own.

    ``stop_cm``, only where a strategy stops the robot: where along the leg it would stand to read this slot.
    """
    if reading.how == MISSING_READING:
        return {"slot": slot, "colour": None, "how": MISSING_READING, "confidence": None, "t_ms": None, "dist_cm": None}
    out: Json = {
        "slot": slot,
        "colour": reading.colour or EMPTY,
        "how": INFERRED if reading.how == ASSUMED else reading.how,
        "confidence": None if reading.confidence is None else round(reading.confidence, 4),
        "t_ms": reading.t_ms,
        "dist_cm": _rounded(reading.dist_cm),
    }
    stop = {} if reading.stop_cm is None else {"stop_cm": _rounded(reading.stop_cm)}
    return out | ({"assumed": True} if reading.how == ASSUMED else {}) | stop


def summary_json(summary: StrategySummary) -> Json:
    """One strategy over all runs; ``rate`` and ``wilson95`` are null where no run counts."""
    interval = summary.wilson95
    out: Json = {
        "strategy": summary.strategy,
        "runs": summary.runs,
        "correct": summary.correct,
        "rate": None if summary.rate is None else round(summary.rate, 6),
        "wilson95": None if interval is None else [round(interval[0], 6), round(interval[1], 6)],
        "errors": {
            "missed": summary.errors.missed, "wrong": summary.errors.wrong,
            "repeated": summary.errors.repeated, "extra": summary.errors.extra,
        },
        "not_applicable": summary.not_applicable,
        "diverges": summary.diverges,
        "truth_unknown": summary.untold,
        "decided_ms": summary.decided_ms,
        "assumed": summary.assumed, "assumed_right": summary.assumed_right, "says_how_sure": summary.says_how_sure,
    }  # fmt: skip
    return out | ({"points": round(summary.points, 3)} if summary.points is not None else {})


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)
