"""The run card: one printed page for the event. Every text from a file is escaped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from telemetry.calibrate.recheck import AS_BEFORE, BOTH, HAND, NEXT, OTHER_LIGHT, SHIFT, SHIFTED
from telemetry.reading.catalogue import STAGES
from telemetry.robot.order import ReaderOrder
from telemetry.robot.recipe.page import STYLE, course_svg
from telemetry.robot.self_check import SelfCheck


@dataclass(frozen=True, slots=True)
class Replayed:
    """How many of the recorded runs the strategy read right; ``judged``: of how many the truth is known."""

    right: int
    judged: int
    folder: str = ""


CAUTIONS = (
    "Hands and hair away from wheels and gears; the stop button at hand. The judges and the event's rules come first.",
    "Many events forbid radio in the hall: unplug it, or let the robot keep the run in memory.",
    "Change nothing after the last check: another height, lamp, mode or program voids what stands here.",
)


def card_html(
    order: ReaderOrder, checked: SelfCheck, when: str, replayed: Replayed | None = None, language: str = "micropython"
) -> str:
    """The page. ``when``: the day of the checks, in words."""
    plan, palette = order.plan, order.palette
    simulated = "<p><b>The palette is simulated: calibrate with your own sensor before the event.</b></p>"
    parts = [
        f"<h1>Run card: {escape(plan.course.name or 'course without a name')}</h1>",
        f"<p>Strategy <b>{escape(plan.strategy.name)}</b>: {escape(plan.strategy.what)}</p>",
        f"<p>Reader <b>{escape(order.fingerprint)}</b> in {'C' if language == 'c' else 'MicroPython'}. The robot says this"
        " number in its first note; another number is another logic.</p>",
        simulated if order.simulated else "",
        course_svg(plan.course),
        "<h2>Settings</h2>", _settings(order),
        "<h2>What was checked</h2>", _checks(order, checked, when, replayed),
        "<h2>One-minute re-check, on the spot</h2>", _recheck(palette.names, palette.measured),
        "<h2>Cautions</h2>", _list((*CAUTIONS, *(f"{one[:1].upper()}{one[1:]}." for one in checked.cautions))),
        "<h2>On the day</h2>", _blanks(),
    ]  # fmt: skip
    body = "\n".join(part for part in parts if part)
    title = escape(f"Run card: {plan.course.name}")
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title><style>{STYLE}</style></head>\n'
        f"<body>\n{body}\n</body></html>\n"
    )


def _settings(order: ReaderOrder) -> str:
    rows = []
    chain = order.plan.chains[0]
    for name, values in zip(chain.names, order.plan.settings, strict=True):
        if name in STAGES:
            said = [
                f"{setting.name} {values[setting.name]} {setting.unit}" for setting in STAGES[name].settings
                if not setting.is_text
            ]  # fmt: skip
            rows.append((name, STAGES[name].what, ", ".join(said) or "none"))
    return _table(rows)


def _checks(order: ReaderOrder, checked: SelfCheck, when: str, replayed: Replayed | None) -> str:
    rows = [("self-check", checked.said, when)]
    if replayed is not None:
        where = f" in {replayed.folder}" if replayed.folder else ""
        rows.append(("recorded runs", f"{replayed.right} of {replayed.judged}{where} read right", when))
    rows.append(("palette", f"{order.palette.name}: {order.palette.made or 'not measured'}", ""))
    return _table(rows)


def _recheck(colours: Sequence[str], measured: bool) -> str:
    rows = [(f"it says '{verdict}'", NEXT[verdict]) for verdict in (AS_BEFORE, SHIFTED, OTHER_LIGHT, BOTH)]
    if not measured:
        first = "The colours were never measured with this sensor: calibrate first, then a re-check is possible."
        return f"<p>{first}</p>{_table(rows)}"
    hold = ", ".join(colours[:3])
    steps = (
        f"Hold the sensor still over {hold}, and run: sidelong recheck PALETTE --from PORT",
        f"Allowed: all channels alike up to x{1 + HAND:.2f} (so much a hand does), against each other up to"
        f" x{1 + SHIFT:.2f}.",
    )
    return _list(steps) + _table(rows)


def _blanks() -> str:
    return _table([
        ("re-check", "as before / shifted / other light: ____________", "time: ________"),
        ("battery", "____________", "time: ________"), ("reader number said by the robot", "____________", "same: yes / no"),
    ])  # fmt: skip


def _table(rows: Sequence[Sequence[str]]) -> str:
    lines = []
    for head, *cells in rows:
        lines.append(f"<tr><th>{escape(head)}</th>{''.join(f'<td>{escape(cell)}</td>' for cell in cells)}</tr>")
    return f"<table cellpadding=2>{''.join(lines)}</table>"


def _list(items: Sequence[str]) -> str:
    return f"<ul>{''.join(f'<li>{escape(item)}</li>' for item in items)}</ul>"
