"""Margins as a coach reads them: how far each thing may go, what fails first, and speed with height."""

from __future__ import annotations

from telemetry.report.table import TableColumn, printable, table, wrap
from telemetry.tuning.stress import DirectionPair, Margin, Stress


def stress_lines(found: Stress) -> list[str]:
    """The whole page."""
    kind = "simulated runs" if found.simulated else "runs"
    lines = wrap(
        f"{found.strategy}: {found.runs} of {found.judged} {kind} right as recorded. Altered, not recorded: each was "
        "changed in one thing and replayed until fewer than 95 % stayed right."
    )
    if found.runs < FEW:
        lines += wrap(f"With {found.runs} {'run' if found.runs == 1 else 'runs'} this is rough; intervals need more.")
    rows = [
        [one.what, number(one.recorded), _margin(one), _interval(one), failure_words(one)] for one in found.margins
    ]
    heads = [TableColumn("how far with"), TableColumn("recorded", right=True), TableColumn("right up to", fixed=True)]
    lines += ["", *table([*heads, TableColumn("95 % interval", fixed=True), TableColumn("first to fail")], rows)]
    for pair in found.pairs:
        lines += ["", *_pair(pair, found)]
    for name, why in found.not_possible:
        lines += ["", *wrap(printable(f"{name}: not possible, {why}."))]
    if found.code_agrees is not None:
        lines += ["", *wrap(
            "Where light or height changes, the sensor's own colour was worked out anew from its raw channels by a rule "
            f"learnt from these recordings (it agrees on {found.code_agrees:.1%} of the samples). At levels darker than any "
            "at which it was seen to say a colour it is taken to say none."
        )]  # fmt: skip
    return lines


FEW = 8


def headline(found: Stress) -> str:
    """One sentence for a verdict: the speed, and the nearest failure."""
    failing = [one for one in found.margins if one.right_up_to is not None]
    if not failing:
        return "Nothing failed as far as it was altered."
    return "; ".join(f"{one.of}: right up to {_margin(one)}" for one in failing[:3])


def number(value: float | None) -> str:
    """Three digits that matter."""
    if value is None:
        return "-"
    return f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}"


def _margin(one: Margin) -> str:
    if one.right_up_to is None:
        return f"no failure to {number(one.searched_to)} {one.unit}"
    return f"{number(one.right_up_to)} {one.unit}"


def _interval(one: Margin) -> str:
    return "-" if one.interval95 is None else f"{number(one.interval95[0])} to {number(one.interval95[1])}"


def failure_words(one: Margin) -> str:
    """The slot and the recording that fail first, '-' where none does."""
    return "-" if one.first_failure is None else f"{one.first_failure[1]} in {one.first_failure[0].rsplit('/', 1)[-1]}"


def _pair(pair: DirectionPair, found: Stress) -> list[str]:
    units = {one.of: one.unit for one in found.margins}
    first, second = units[pair.first], units[pair.second]
    lines = []
    ends = list(zip(pair.second_values, pair.right_up_to, strict=True))
    said = [
        f"{'no failure' if limit is None else f'{number(limit)} {first}'} at {pair.second} {number(value)} {second}"
        for value, limit in ends
        if limit is None or limit > pair.first_values[0] * 1.001 or value == pair.second_values[0]
    ]
    lines += wrap(f"{pair.first} with {pair.second}: right up to {'; '.join(said)}.")
    head = "".join(f"{number(value):>8}" for value in pair.second_values)
    lines.append(f"  % right; {pair.first} downwards, {pair.second} to the right")
    lines.append(f"  {'':>8}{head}")
    for value, row in zip(pair.first_values, pair.shares, strict=True):
        lines.append(f"  {number(value):>8}" + "".join(f"{share * 100:>8.0f}" for share in row))
    return lines
