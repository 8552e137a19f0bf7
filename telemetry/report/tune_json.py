"""What tune found as JSON, in the documented form (gui/guide/formats.md)."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from telemetry.safe_text import for_json
from telemetry.tuning.tune import Trial, Tuning


def tune_json(found: Tuning) -> str:
    """The whole document."""
    recommended = _trial(found.recommended) | {"works_from_to": {name: list(span) for name, span in found.works.items()}}
    document = {
        "tune": {
            "strategy": found.strategy.name, "runs": len(found.judged), "now": _trial(found.now), "recommended": recommended,
            "best_tried": _trial(found.best),
            "gains": {one.name: getattr(found.gains, one.name) for one in fields(found.gains)},
            "simulated": found.simulated, "tried": found.tried,
            "left_out": None if found.folds is None else {"what": found.folds[0], "times": found.folds[1]},
            "not_judged": [{"recording": name, "why": why} for name, why in found.apart],
            "sensitivity": [
                {"setting": line.axis.name, "values": list(line.axis.values), "correct": list(line.right)}
                for line in found.lines
            ],
        }
    }  # fmt: skip
    return for_json(document, indent=1)


def _trial(trial: Trial) -> dict[str, Any]:
    out: dict[str, Any] = {
        "settings": dict(trial.settings), "correct": trial.correct, "left_out_correct": trial.left_out,
        "decided_ms": trial.decided_ms,
    }  # fmt: skip
    return out | ({} if trial.altered is None else {"altered_right": round(trial.altered, 4)})
