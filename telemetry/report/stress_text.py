"""Margins as a coach reads them: how far each thing may go, what fails first, and speed with height."""

from __future__ import annotations

from collections.abc import Sequence

from telemetry.report.margin_words import digits, figure, recorded, span, unit_words
from telemetry.report.table import TableColumn, printable, table, wrap
from telemetry.tuning.pairs import DirectionPair
from telemetry.tuning.stress import Margin, Stress
from telemetry.wording import listed


def stress_lines(found: Stress) -> list[str]:
    """The whole page."""
    kind = "simulated runs" if found.simulated else "runs"
    lines = wrap(headline(found))
    lines += wrap(
        f"{found.strategy}: {found.runs} of {found.judged} {kind} right as recorded. Altered, not recorded: each was "
        "changed in one thing and replayed until fewer than 95 % of as many were right."
    )
    if found.runs < FEW:
        lines += wrap(f"With {found.runs} {'run' if found.runs == 1 else 'runs'} this is rough; intervals need more.")
    rows = [
        [one.what, recorded(one.recorded, one.unit), limit_words(one), span(one.interval95, one.unit), failure_words(one)]
        for one in found.margins
    ]
    heads = [TableColumn("how far with", fixed=True), TableColumn("recorded", right=True)]
    heads += [TableColumn("right up to", fixed=True), TableColumn("95 % interval", fixed=True), TableColumn("first to fail")]
    lines += ["", *table(heads, rows)]
    for pair in found.pairs:
        lines += ["", *_pair(pair, found)]
    for name, why in found.not_possible:
        lines += ["", *wrap(printable(f"{name}: not possible, {why}."))]
    if any(one.interval95 for one in found.margins):
        lines += ["", *wrap(UNSEEN)]
    if found.rests_on_dark:
        lines += ["", *wrap(dark_words(found.rests_on_dark))]
    if found.code_agrees is not None:
        lines += ["", *wrap(
            "Where light or height changes, the sensor's own colour is changed where a rule learnt from these recordings "
            f"says so (it agrees with the sensor on {100 * found.code_agrees:.1f} % of the samples)."
        )]  # fmt: skip
    return lines


FEW = 8
UNSEEN = (
    "Intervals: other runs drawn from these and one that fails somewhere unknown, for few runs show no seldom failure; for "
    "speed, height and light also what no recording shows, at its worst and at its best (how fast the lamp's light falls "
    "with the height, how much of the light is not the lamp's, how slowly the sensor follows, below which level it says "
    "none)."
)


def dark_words(directions: Sequence[str]) -> str:
    """What the margins of ``directions`` rest on, and what would say more."""
    return (
        f"{listed(directions).capitalize()}: no recording here shows below which level your sensor says none, so a level "
        "near the darkest colour is assumed, to be careful; if it sees darker, there is more room. Try it: a run with the "
        "sensor raised, or its lamp partly covered, says more than any prediction."
    )


def headline(found: Stress) -> str:
    """One sentence for a verdict: the speed, and the nearest failure."""
    failing = [one for one in found.margins if one.right_up_to is not None][:3]
    if not failing:
        return "Nothing failed as far as it was altered."
    limits = [limit_words(one) + (f" ({one.what})" if one.unit == "part" else "") for one in failing]
    untried = [name for name, _ in found.not_possible]
    rest = f" Not tried: {listed(untried)} (see below)." if untried else ""
    return f"Read correctly up to {', '.join(limits)}.{rest}"


def limit_words(one: Margin) -> str:
    """'71 cm/s', or how far it was altered without a failure."""
    if one.right_up_to is None:
        return f"no failure to {figure(one.searched_to, one.unit)}"
    return figure(one.right_up_to, one.unit)


def failure_words(one: Margin) -> str:
    """The slot and the recording that fail first, '-' where none does."""
    return "-" if one.first_failure is None else f"{one.first_failure[1]} in {one.first_failure[0].rsplit('/', 1)[-1]}"


def pair_words(pair: DirectionPair, one: str, other: str) -> str:
    """What fails first, and where it is uneven. ``one``, ``other``: units."""
    failure = pair.first_failure
    words = "" if failure is None else f"First to fail: {failure[1]} in {failure[0].rsplit('/', 1)[-1]}."
    if pair.uneven is None:
        return words
    (first, second), (at, beside) = pair.uneven
    return (
        f"{words} Uneven: it fails from {pair.first} {figure(first, one)} with {pair.second} {recorded(second, other)}, "
        f"though it is right at {figure(at, one)} with {recorded(beside, other)}, which is no easier. With few runs that "
        "may be chance: count on the easier one that fails."
    ).strip()


def _pair(pair: DirectionPair, found: Stress) -> list[str]:
    units = {one.of: one.unit for one in found.margins}
    one, other = units[pair.first], units[pair.second]
    lines = []
    ends = list(zip(pair.second_values, pair.right_up_to, strict=True))
    said = [
        f"{'no failure' if limit is None else figure(limit, one)} at {pair.second} {recorded(value, other)}"
        for value, limit in ends
        if limit is None or limit > pair.first_values[0] * 1.001 or value == pair.second_values[0]
    ]
    lines += wrap(f"{pair.first} with {pair.second}: right up to {'; '.join(said)}.")
    lines += wrap(pair_words(pair, one, other))
    head = "".join(f"{digits(value, other):>8}" for value in pair.second_values)
    lines.append(
        f"  % of those right as recorded; {pair.first} ({unit_words(one)}) downwards, {pair.second} ({unit_words(other)}) "
        "to the right; -: not tried, most fails before"
    )
    lines.append(f"  {'':>8}{head}")
    for value, row in zip(pair.first_values, pair.shares, strict=True):
        cells = ["-" if share is None else f"{share * 100:.0f}" for share in row]
        lines.append(f"  {digits(value, one):>8}" + "".join(f"{cell:>8}" for cell in cells))
    return lines
