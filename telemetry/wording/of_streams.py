"""What is said of the stream and its link."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from telemetry.findings import Finding, FindingKind
from telemetry.wording.grammar import Numbers, counted, figures


def _who(sensor: str) -> str:
    return f"the sensor '{sensor}'" if sensor else "the sensor"


def _loop_pace(one: Finding) -> str:
    n: Numbers = one.numbers
    return (
        f"The loop runs every {figures(n['period_ms'])} ms (99 in 100 within {figures(n['period99_ms'])} ms);"
        f" {figures(n['lines_per_s'])} lines arrived per second."
    )


def _lines_lost(one: Finding) -> str:
    n: Numbers = one.numbers
    were = "was" if n["lost"] == 1 else "were"
    return f"{counted(n['lost'], 'line')} {were} lost on the way ({100 * n['lost'] / (n['lost'] + n['rows']):.1f} %)."


def _repeats(one: Finding) -> str:
    n: Numbers = one.numbers
    return (
        f"The loop is faster than {_who(one.cause)}: it measures about every {figures(n['sensor_ms'])} ms, so about"
        f" {figures(n['sensor_ms'] / n['period_ms'], 2)} lines in a row repeat one measurement."
    )


def _link_narrow(one: Finding) -> str:
    n: Numbers = one.numbers
    if one.cause == "serial":
        link, remedy = f"{n['baud']} baud carry", "a higher baud rate"
    else:
        each = f"{counted(n['per_interval'], 'notification')} of {n['payload_bytes']} bytes"
        link, remedy = f"{each} every {figures(n['interval_ms'])} ms carry", "a larger ATT MTU"
    full = n["share"] > 1
    verdict = "does not fit the link: lines will be lost or late" if full else "leaves the link hardly any room"
    return (
        f"{figures(n['lines_per_s'], 6)} lines/s of {n['line_bytes']:.0f} bytes {verdict}"
        f" ({link} {n['capacity_bytes_per_s']:.0f} bytes/s, {100 * n['share']:.0f} % would be used)."
        f" Send at most {n['most_lines_per_s']} lines/s, fewer columns, or use {remedy}."
    )


STREAM_WORDS: Final[Mapping[FindingKind, Callable[[Finding], str]]] = {
    FindingKind.LOOP_PACE: _loop_pace,
    FindingKind.LINES_LOST: _lines_lost,
    FindingKind.REPEATS: _repeats,
    FindingKind.REPEATS_UNTOLD: lambda one: (
        f"Whether lines only repeat a measurement of {_who(one.cause)} cannot be told from this run."
    ),
    FindingKind.LINK_NARROW: _link_narrow,
}
