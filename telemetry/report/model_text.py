"""What was fitted to a robot's recordings, beside what the built-in robot sends when it is driven with it."""

from __future__ import annotations

from telemetry.report.margin_words import digits
from telemetry.report.table import TableColumn, table, wrap
from telemetry.tuning.robot_model import RobotModel, figures

WORDS = {
    "floor": "noise, floor (counts squared)", "shot": "noise, growing with level (counts)",
    "common": "noise, correlation of the channels", "lag1": "noise, correlation with the next",
    "loop_ms": "program loop (ms)", "loop_jitter": "its jitter (%)", "period_ms": "sensor's own period (ms)",
    "spot_cm": "spot, deviation along the way (cm)", "stagger_ms": "a channel later than the one before (ms)",
    "field": "field (% of full scale)", "brightest": "brightest marker (% of full scale)",
    "speed_cm_s": "speed (cm/s)", "black": "black level (counts)", "full": "full scale (counts)",
    "lost": "lines lost (%)", "gap": "lines in a gap", "missing": "values missing (%)",
    "slip": "distance wrong by up to (%)", "start_cm": "start off its mark by up to (cm)",
    "height": "height (times that of the palette)",
}  # fmt: skip


def model_lines(model: RobotModel, driven: RobotModel) -> list[str]:
    """The whole page. ``driven``: the same figures fitted to simulated runs of the built-in robot driven with ``model``."""
    kind = "simulated runs" if model.simulated else "runs"
    lines = wrap(f"Fitted to {model.runs} {kind if model.runs != 1 else kind[:-1]}; 95 % intervals by bootstrap.")
    rows = []
    theirs = figures(driven)
    for name, one in figures(model).items():
        unit = "part" if "%" in WORDS[name] else ""
        span = "-" if one.low is None or one.high is None else f"{_shown(one.low, unit)} to {_shown(one.high, unit)}"
        rows.append([WORDS[name], _shown(one.value, unit), span, _shown(theirs[name].value, unit)])
    heads = [TableColumn(word, right=True) for word in ("recorded", "95 % interval", "driven so")]
    lines += ["", *table([TableColumn(""), *heads], rows)]
    lines += ["", *wrap(
        "'-': the recordings do not show it (a sensor's period that is no longer than the loop, a spot without markers that "
        "stand out, a height without a palette of your own). 'driven so': the same fit on the built-in robot driven with "
        "these figures (simulated)."
    )]  # fmt: skip
    return lines


def _shown(value: float | None, unit: str) -> str:
    return "-" if value is None else digits(value, unit)
