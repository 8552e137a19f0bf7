"""What was fitted to a robot's recordings, beside what the built-in robot sends when it is driven with it."""

from __future__ import annotations

from telemetry.report.margin_words import number
from telemetry.report.table import TableColumn, table, wrap
from telemetry.tuning.robot_model import RobotModel, figures

WORDS = {
    "floor": "noise, floor (counts squared)", "shot": "noise, growing with level (counts)",
    "common": "noise, correlation of the channels", "lag1": "noise, correlation with the next",
    "loop_ms": "program loop (ms)", "loop_jitter": "its jitter (part)", "period_ms": "sensor's own period (ms)",
    "spot_cm": "spot, deviation along the way (cm)", "stagger_ms": "a channel later than the one before (ms)",
    "field": "field (part of full scale)", "brightest": "brightest marker (part of full scale)",
    "speed_cm_s": "speed (cm/s)", "black": "black level (counts)", "full": "full scale (counts)",
    "lost": "lines lost (part)", "gap": "lines in a gap", "missing": "values missing (part)",
}  # fmt: skip


def model_lines(model: RobotModel, driven: RobotModel) -> list[str]:
    """The whole page. ``driven``: the same figures fitted to simulated runs of the built-in robot driven with ``model``."""
    kind = "simulated runs" if model.simulated else "runs"
    lines = wrap(f"Fitted to {model.runs} {kind if model.runs != 1 else kind[:-1]}; 95 % intervals by drawing runs anew.")
    rows = []
    theirs = figures(driven)
    for name, one in figures(model).items():
        span = "-" if one.low is None or one.high is None else f"{number(one.low)} to {number(one.high)}"
        rows.append([WORDS[name], number(one.value), span, number(theirs[name].value)])
    heads = [TableColumn(word, right=True) for word in ("recorded", "95 % interval", "driven so")]
    lines += ["", *table([TableColumn(""), *heads], rows)]
    lines += ["", *wrap(
        "'-': the recordings do not show it (a sensor's period that is no longer than the loop, a spot without markers that "
        "stand out). 'driven so': the same fit on the built-in robot driven with these figures (simulated)."
    )]  # fmt: skip
    return lines
