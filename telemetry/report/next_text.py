"""The next layout to set up, and why it tells more than one drawn by lot."""

from __future__ import annotations

from telemetry.course import format_truth
from telemetry.report.margin_words import number
from telemetry.report.table import TableColumn, printable, table, wrap
from telemetry.tuning.next_run import NextRun


def next_lines(found: NextRun) -> list[str]:
    """The whole page."""
    best = found.best
    told = best.bits >= 0.005
    lines = [printable(f"Set up next: {format_truth(best.truth)}")] if told else []
    if told and found.faster > 1.0 and found.speed_cm_s is not None:
        lines += wrap(
            f"and drive it at {number(found.speed_cm_s)} cm/s, {found.faster:g} times as fast as recorded: at the recorded "
            "speed nothing fails on any layout, so nothing is told."
        )
    what = "which of them is better" if len(best.right) > 1 else "whether it reads such a layout"
    if not told:
        speed = f", up to {number(found.speed_cm_s)} cm/s" if found.faster > 1.0 and found.speed_cm_s is not None else ""
        lines += wrap(f"No layout tells anything: they read all of them alike{speed}. Practise one drawn by lot.")
    else:
        lines += wrap(
            f"Why: one such run tells {best.bits:.2f} bits about {what}; one drawn by lot {found.by_lot:.2f} (mean of "
            f"{found.layouts} layouts). Simulated, by the built-in robot made like yours."
        )
    rows = [[name, f"{share:.0%}", best.slots[name] or "-"] for name, share in best.right.items()]
    heads = [TableColumn("on this layout"), TableColumn("right", right=True), TableColumn("fails most at")]
    return [*lines, "", *table(heads, rows)]
