"""The recipe as a page: HTML that prints on two sheets. Every text from a file is escaped."""

from __future__ import annotations

from html import escape

from telemetry.course import Course, GroupRule, Leg, LegStart
from telemetry.reading.chain import decode
from telemetry.reading.plan import Plan
from telemetry.robot.recipe.model import Recipe, Value
from telemetry.robot.samples import samples_of

STYLE = """
@page { size: A4; margin: 13mm }
body { font: 9.5pt/1.35 sans-serif; color: #111; background: #fff; max-width: 184mm; margin: 0 auto }
h1 { font-size: 16pt; margin: 0 0 1mm } h2 { font-size: 11.5pt; margin: 2.5mm 0 .5mm }
h3 { font-size: 9.5pt; margin: 1.5mm 0 0 }
p { margin: 0 0 1.5mm } .small { font-size: 8.5pt; color: #333 }
pre { font: 7.5pt/1.2 monospace; margin: .5mm 0 1mm; padding: 1mm 2mm; border-left: 1mm solid #888; white-space: pre-wrap }
table { border-collapse: collapse; width: 100% } td, th { text-align: left; vertical-align: top; padding: .4mm 2mm .4mm 0;
 border-bottom: .2mm solid #bbb; font-size: 8.5pt }
.step { break-inside: avoid } .columns { column-count: 2; column-gap: 7mm } svg { width: 100%; height: auto }
"""


def recipe_html(plan: Plan, recipe: Recipe, fingerprint: str, remark: str = "", simulated: bool = False) -> str:
    """The whole page. ``remark``: what the reader must know of it, such as that another strategy was wanted."""
    course = plan.course
    said = "The palette is simulated. " if simulated else ""
    parts = [
        f"<h1>Recipe: {escape(plan.strategy.title)}</h1>",
        f"<p>{escape(plan.strategy.what)}</p>",
        f"<p class=small>Course: {escape(course.name or 'without a name')} · strategy {escape(plan.strategy.name)} ·"
        f" fingerprint {escape(fingerprint)}. {said}Written by Sidelong.</p>",
        f"<p><b>{escape(remark)}</b></p>" if remark else "",
        course_svg(course),
        "<h2>Before the run</h2>", _begin(recipe),
        "<h2>In parallel with the driving: repeat for every new sample of the sensor</h2>",
        "<p class=small>wait until there is a new sample; then go through all steps, in this order, without waiting.</p>",
        "<div class=columns>", *_steps(recipe), *_blocks(recipe), *_end(recipe), "</div>",
        "<h2>Dry run (made up: a drive past every slot)</h2>", *_dry_run(plan),
    ]  # fmt: skip
    body = "\n".join(part for part in parts if part)
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>Recipe: {escape(plan.strategy.title)}</title>'
        f"<style>{STYLE}</style></head>\n<body>\n{body}\n</body></html>\n"
    )


def _said(value: Value) -> str:
    return f'"{value}"' if isinstance(value, str) else f"{value:g}"


def _begin(recipe: Recipe) -> str:
    rows = [f"<tr><th>list {escape(name)}</th><td>{escape(', '.join(map(_said, values)) or 'empty')}</td></tr>"
            for name, values in recipe.lists.items()]  # fmt: skip
    same: dict[Value, list[str]] = {}
    for name, value in recipe.variables.items():
        same.setdefault(value, []).append(name)
    rows += [f"<tr><th>set to {escape(_said(value))}</th><td>{escape(', '.join(names))}</td></tr>"
             for value, names in same.items()]  # fmt: skip
    rows += [f"<tr><th>{escape(name)}</th><td>your program fills it in at every sample: {escape(what)}</td></tr>"
             for name, what in recipe.inputs.items()]  # fmt: skip
    return f"<table cellpadding=2>{''.join(rows)}</table>"


def _steps(recipe: Recipe) -> list[str]:
    out = []
    for number, step in enumerate((one for one in recipe.steps if one.each), start=1):
        why = f"<p class=small>Guards against: {escape(step.why[:1].lower() + step.why[1:])}</p>" if step.why else ""
        lines = escape("\n".join(step.each))
        out.append(f"<div class=step><h3>{number}. {escape(step.title)}</h3>{why}<pre>{lines}</pre></div>")
    return out


def _blocks(recipe: Recipe) -> list[str]:
    """The blocks of one's own that steps do."""
    return [
        f"<div class=step><h3>Block {escape(name)}</h3><pre>{escape(chr(10).join(lines))}</pre></div>"
        for name, lines in recipe.blocks.items()
    ]  # fmt: skip


def _end(recipe: Recipe) -> list[str]:
    lines = ['set COLOUR to "nothing"', *recipe.end]
    title = "When the run is over"
    return [f"<div class=step><h3>{title}</h3><pre>{escape(chr(10).join(lines))}</pre></div>"] if recipe.end else []


def _dry_run(plan: Plan) -> list[str]:
    course, names = plan.course, plan.names
    left = [
        [colour for colour, count in zip(group.colours, group.counts or (1,) * len(group.colours), strict=True)
         for _ in range(count)]
        for group in course.groups
    ]  # fmt: skip
    rows = []
    for row, event in samples_of(plan).events:
        one = decode(event)
        if one.slot is None:
            continue
        slot = course.slots[one.slot]
        colour = names[one.colour] if one.colour else "empty"
        mine = left[slot.group]
        if colour in mine and course.groups[slot.group].rule is not GroupRule.ANY:
            mine.remove(colour)
        how = ("seen", "follows from the others", "assumed")[min(one.how, 2)]
        rows.append(
            f"<tr><td>sample {row + 1}</td><td>{escape(slot.name)}</td><td>{escape(colour)} ({how})</td>"
            f"<td>LEFT {slot.group + 1} is now {escape(', '.join(mine) or 'empty')}</td></tr>"
        )
    return [f"<table cellpadding=2>{''.join(rows)}</table>"] if rows else ["<p>It reads nothing in the made-up drive.</p>"]


def course_svg(course: Course) -> str:
    """The course drawn: a line a leg, slots as boxes with their names, decoys hatched."""
    lines: list[str] = []
    height = 0
    for number, leg in enumerate(course.legs):
        slots = [slot for slot in course.slots if slot.leg == number and not slot.unseen]
        places = [slot.at_cm if slot.at_cm is not None else 10.0 * (k + 1) for k, slot in enumerate(slots)]
        decoys = [decoy for decoy in course.decoys if decoy.leg == number and decoy.at_cm is not None]
        far = max([*places, *(decoy.at_cm or 0.0 for decoy in decoys), 10.0]) * 1.1
        y = height + 34
        lines.append(f'<text x="4" y="{height + 12}" font-size="10" font-weight="bold">{escape(leg.name)}</text>')
        starts = _begins(leg)
        lines.append(f'<text x="690" y="{height + 12}" font-size="9" text-anchor="end">{escape(starts)}</text>')
        lines.append(f'<line x1="10" y1="{y}" x2="690" y2="{y}" stroke="#111" stroke-width="1.4"/>')
        lines.append(f'<path d="M690 {y} l-8 -4 v8 z" fill="#111"/>')
        for decoy in decoys:
            x = 10 + 660 * (decoy.at_cm or 0.0) / far
            lines.append(f'<rect x="{x - 5:.1f}" y="{y - 6}" width="10" height="12" fill="none" stroke="#111"'
                         f' stroke-dasharray="2 2"/>')  # fmt: skip
            lines.append(_label(x, y + 16, f"({decoy.name})"))
        for slot, place in zip(slots, places, strict=True):
            x = 10 + 660 * place / far
            wide = max(8.0, 660 * (slot.width_cm or 2.0) / far)
            lines.append(f'<rect x="{x - wide / 2:.1f}" y="{y - 7}" width="{wide:.1f}" height="14" fill="#fff" stroke="#111"'
                         f' stroke-width="1.4"/>')  # fmt: skip
            lines.append(_label(x, y - 11, slot.name))
            if slot.at_cm is not None:
                lines.append(_label(x, y + 16, f"{slot.at_cm:g} cm"))
        height += 60
    unseen = [slot.name for slot in course.slots if slot.unseen]
    if unseen:
        lines.append(f'<text x="4" y="{height + 10}" font-size="9">never passed: {escape(", ".join(unseen))}</text>')
        height += 16
    inner = "".join(lines)
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 700 {height}" font-family="sans-serif">{inner}</svg>'


def _begins(leg: Leg) -> str:
    """How a leg begins, in words."""
    return {
        LegStart.BEGIN: "from the start", LegStart.NOTE: f"begins at the note “{leg.starts_note}”",
        LegStart.HEADING: f"begins when the robot heads for {leg.starts_heading_deg or 0:g}°",
        LegStart.RESET: "begins when the distance is set back", LegStart.REVERSE: "begins when the robot backs",
    }[leg.starts]  # fmt: skip


def _label(x: float, y: float, text: str) -> str:
    short = text if len(text) <= 16 else text[:15] + "…"
    return f'<text x="{x:.1f}" y="{y}" font-size="9" text-anchor="middle">{escape(short)}</text>'

