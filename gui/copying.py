"""Plots on the clipboard: as a picture for a message, as a table for a spreadsheet."""

from __future__ import annotations

import math

from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QWidget

from gui.plots.stack import StripStack


def copy_picture(widget: QWidget) -> None:
    """What the widget shows, as a picture."""
    QGuiApplication.clipboard().setPixmap(widget.grab())


def copy_table(stack: StripStack) -> int:
    """The samples in view as tab-separated text; returns how many."""
    QGuiApplication.clipboard().setText(table_text(stack))
    return len(stack.rows_in_view())


def table_text(stack: StripStack) -> str:
    """What is in view as tab-separated text, one line a sample."""
    channels = [
        trace.channel
        for strip in stack.strips
        for trace in strip.spec.traces
        if stack.series.channel(trace.channel) is not None
    ]
    bands = [lane for lane in stack.lanes if stack.series.channel(lane.channel) is not None]
    lines = ["\t".join(["time/s", "way/cm", *channels, *(lane.channel for lane in bands)])]
    for row in stack.rows_in_view():
        fields = [f"{stack.series.time_s[row]:.6g}", f"{stack.series.way_cm[row]:.6g}"]
        for name in channels:
            value = float(stack.series.channel(name)[row])  # type: ignore[index]
            fields.append("" if math.isnan(value) else f"{value:.6g}")
        for lane in bands:
            code = int(stack.series.channel(lane.channel)[row])  # type: ignore[index]
            fields.append(lane.names[code] if 0 <= code < len(lane.names) else "")
        lines.append("\t".join(fields))
    return "\n".join(lines) + "\n"
