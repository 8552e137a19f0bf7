"""Figures of a margin as a coach reads them, the same in console, window and report."""

from __future__ import annotations

from telemetry.wording import figures

TIMES = {"factor": "times as high", "times": "times as noisy", "times dimmer": "times dimmer"}
"""Units of directions that are so many times what was recorded."""


def number(value: float | None) -> str:
    """Three digits that matter."""
    if value is None:
        return "-"
    return figures(value)


def digits(value: float, unit: str) -> str:
    """Without the unit: parts as per cent."""
    return number(100.0 * value if unit == "part" else value)


def unit_words(unit: str) -> str:
    """'%', 'times as high', 'cm/s'."""
    return "%" if unit == "part" else TIMES.get(unit, unit)


def figure(value: float | None, unit: str) -> str:
    """'71 cm/s', '1.2 times as high', '3 %'."""
    return "-" if value is None else f"{digits(value, unit)} {unit_words(unit)}"


def recorded(value: float | None, unit: str) -> str:
    """Where the direction begins; 'as it is' for what is counted from there."""
    if value is not None and (value == 0.0 or (unit in TIMES and value == 1.0)):
        return "as it is"
    return figure(value, unit)


def span(ends: tuple[float, float] | None, unit: str) -> str:
    """'64 to 78 cm/s', '1.1 to 1.3' where the unit is so many times, which is said beside it."""
    if ends is None:
        return "-"
    return f"{digits(ends[0], unit)} to {digits(ends[1], unit) if unit in TIMES else figure(ends[1], unit)}"
