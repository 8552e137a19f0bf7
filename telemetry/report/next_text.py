"""The next layout to set up, and why it tells more than one drawn by lot."""

from __future__ import annotations

from telemetry.course import format_truth
from telemetry.report.margin_words import number
from telemetry.report.table import TableColumn, printable, table, wrap
from telemetry.tuning.next_run import NextRun

WORTH_BITS = 0.05
"""Below that twenty runs would not settle it: no layout is worth setting up for that."""


def next_lines(found: NextRun) -> list[str]:
    """The whole page."""
    best = found.best
    told = best.bits >= WORTH_BITS
    lines = [printable(f"Set up next: {format_truth(best.truth)}")] if told else []
    if told and found.faster > 1.0 and found.speed_cm_s is not None:
        lines += wrap(
            f"and drive it at {number(found.speed_cm_s)} cm/s, {found.faster:g} times as fast as recorded: at the recorded "
            "speed nothing fails on any layout, so nothing is told. Only if it can, and with room to stop."
        )
    what = "which of them is better" if len(best.right) > 1 else "whether it reads such a layout"
    if not told:
        speed = f", up to {number(found.speed_cm_s)} cm/s" if found.faster > 1.0 and found.speed_cm_s is not None else ""
        lines += wrap(
            f"No layout tells anything worth a run: they read nearly all of them alike{speed}. Vary something else: light, "
            "height, battery, who places the robot; or practise a random layout."
        )
    else:
        lot = "" if found.by_lot is None else f"; a random layout {found.by_lot:.2f}"
        lines += wrap(
            f"Why: {_difference(found)} One such run tells {best.bits:.2f} bits about {what} (1 would settle it){lot}. "
            f"Simulated: {found.drives} drives of the built-in robot made like yours, the best of {found.layouts} layouts."
        )
    if found.stopped:
        lines += wrap(
            f"Stopped before all was tried: this is what {found.drives} drives say, and the best of many after few drives "
            "is flattered."
        )
    rows = [[name, f"{100 * share:.0f} %", best.slots[name] or "-"] for name, share in best.right.items()]
    heads = [TableColumn("on this layout"), TableColumn("right", right=True), TableColumn("fails most at")]
    return [*lines, "", *table(heads, rows)]


def _difference(found: NextRun) -> str:
    """Who reads the layout and who does not, and where."""
    ordered = sorted(found.best.right.items(), key=lambda item: -item[1])
    (good, most), (bad, least) = ordered[0], ordered[-1]
    slot = f", and fails most at {found.best.slots[bad]}" if found.best.slots[bad] else ""
    if len(ordered) == 1:
        return f"{good} reads it right in {100 * most:.0f} % of the runs{slot}: it may go either way."
    return f"{good} reads it right in {100 * most:.0f} % of the runs, {bad} in {100 * least:.0f} %{slot}."
