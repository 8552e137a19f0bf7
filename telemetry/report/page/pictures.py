"""The pictures of a report, as SVG. They hold text and shapes only, and take their colours from the page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from telemetry.report.fills import NONE_FILL, fill_of
from telemetry.report.page.markup import text

WIDTH = 960
LINES = {"red": "#c8442e", "green": "#3c8a3a", "blue": "#2f6fc4", "refl": "#7a6a3a"}
DASHES = {"red": "", "green": "7 3", "blue": "2 3", "refl": ""}
"""A channel's line differs by its dashes too."""


@dataclass(frozen=True, slots=True)
class Band:
    """A stretch of the picture that bears a word: ``start`` and ``stop`` as parts of the width, 0 to 1."""

    start: float
    stop: float
    word: str
    fill: str = ""


@dataclass(frozen=True, slots=True)
class RunPicture:
    """What is drawn of one run. ``lines``: channel -> values 0 to 1, NaN where missing, evenly spaced.

    ``seen``: what the sensor or the palette saw. ``slots``: where each marker passed. ``taken``: one a slot, in the middle
    of its band or where it was decided; the picture shows its number.
    """

    seconds: float
    lines: Mapping[str, Sequence[float]]
    seen: Sequence[Band] = ()
    slots: Sequence[Band] = ()
    taken: Sequence[Band] = ()
    wrong: frozenset[int] = field(default_factory=frozenset)
    """Which of ``taken`` are not what stood there."""


def intervals(rows: Sequence[tuple[str, float, float, float, str]]) -> str:
    """Rates with their intervals: (name, low, rate, high, words), each rate 0 to 1."""
    left, right, step, top = 210, 110, 26, 26
    span = WIDTH - left - right
    height = top + step * len(rows) + 12
    parts = [f'<svg viewBox="0 0 {WIDTH} {height}" role="img" aria-label="Share of runs read right, with 95 % ranges">']
    for percent in range(0, 101, 25):
        x = left + span * percent / 100
        parts.append(f'<path d="M{x:.1f} {top - 6}V{height - 8}" stroke="var(--line)"/>')
        parts.append(_word(x, 14, f"{percent} %", "middle", 12, "var(--soft)"))
    for index, (name, low, rate, high, words) in enumerate(rows):
        y = top + step * index + step / 2
        a, b, c = (left + span * value for value in (low, rate, high))
        parts.append(_word(left - 12, y + 4, name[:28], "end", 14))
        parts.append(f'<path d="M{a:.1f} {y}H{c:.1f}" stroke="var(--soft)" stroke-width="5" stroke-linecap="round"/>')
        parts.append(f'<circle cx="{b:.1f}" cy="{y}" r="6" fill="var(--accent)" stroke="var(--card)" stroke-width="1.5"/>')
        parts.append(_word(WIDTH - right + 14, y + 4, words, "start", 14))
    return "".join(parts) + "</svg>"


def run_picture(run: RunPicture, title: str) -> str:
    """Channels over time, what was seen below, and above it where each marker passed and what was taken there."""
    top, plot, ribbon, bottom = 40, 190, 26, 44
    height = top + plot + ribbon + bottom
    parts = [f'<svg viewBox="0 0 {WIDTH} {height}" role="img" aria-label="{text(title)}">']
    for band in run.slots:
        x, wide = band.start * WIDTH, max((band.stop - band.start) * WIDTH, 2)
        shown = f'<rect x="{x:.1f}" y="{top}" width="{wide:.1f}" height="{plot}" fill="var(--band)">'
        parts.append(f"{shown}<title>{text(band.word)}</title></rect>")
    middles = [min(max((band.start + band.stop) / 2 * WIDTH, 10), WIDTH - 10) for band in run.taken]
    for index, (middle, beside) in enumerate(zip(middles, apart(middles), strict=True)):
        wrong = index in run.wrong
        mark = "\N{MULTIPLICATION SIGN}" if wrong else "\N{CHECK MARK}"
        fill = "var(--bad)" if wrong else "var(--good)"
        parts.append(_word(beside, 14, str(index + 1), "middle", 13, fill))
        parts.append(_word(beside, 29, mark, "middle", 13, fill))
        parts.append(f'<path d="M{beside:.1f} 32L{middle:.1f} {top}" stroke="var(--soft)"/>')
    for place, (name, values) in enumerate(run.lines.items()):
        parts.append(_line(name, values, top, plot))
        parts.append(_key(name, 8 + 84 * place, height - 10))
    y = top + plot
    for band in run.seen:
        x, wide = band.start * WIDTH, (band.stop - band.start) * WIDTH
        fill = band.fill or (NONE_FILL if band.word == "none" else fill_of(band.word))
        parts.append(
            f'<rect x="{x:.1f}" y="{y + 3}" width="{wide:.2f}" height="{ribbon - 6}" fill="{fill}" stroke="var(--soft)" '
            f'stroke-width="0.3"><title>{text(band.word)}</title></rect>'
        )
        word = band.word if wide > 7.5 * len(band.word) + 6 else band.word[:1]
        if wide > 11 and band.word != "none":
            patch = 7.2 * len(word) + 2
            parts.append(f'<rect x="{x + 1.5:.1f}" y="{y + 6}" width="{patch:.1f}" height="14" fill="var(--card)"/>')
            parts.append(_word(x + 3, y + 17, word, "start", 11))
    for second in range(int(run.seconds) + 1):
        x = second / run.seconds * WIDTH + 2 if run.seconds else WIDTH
        if x < WIDTH - 26 and second % max(1, round(run.seconds / 12)) == 0:
            parts.append(_word(x, height - 30, f"{second} s", "start", 11, "var(--soft)"))
    return "".join(parts) + "</svg>"


LEAST_APART = 20


def apart(middles: Sequence[float]) -> list[float]:
    """Where the numbers of what was taken stand: in their order along the way, LEAST_APART or more from each other."""
    out = list(middles)
    order = sorted(range(len(out)), key=out.__getitem__)
    for before, here in pairwise(order):
        out[here] = max(out[here], out[before] + LEAST_APART)
    limit = WIDTH - 10.0
    for here in reversed(order):
        out[here] = min(out[here], limit)
        limit = out[here] - LEAST_APART
    return out


def _line(name: str, values: Sequence[float], top: float, high: float) -> str:
    """One channel as a path that is broken where values are missing."""
    pieces: list[str] = []
    pen = "M"
    for index, value in enumerate(values):
        if value != value:  # noqa: PLR0124 - NaN
            pen = "M"
            continue
        x = index / max(len(values) - 1, 1) * WIDTH
        pieces.append(f"{pen}{x:.1f} {top + high * (1 - value):.1f}")
        pen = "L"
    dash = f' stroke-dasharray="{DASHES[name]}"' if DASHES.get(name) else ""
    colour = LINES.get(name, "var(--ink)")
    return f'<path d="{"".join(pieces)}" fill="none" stroke="{colour}" stroke-width="1.4"{dash}/>'


def _key(name: str, x: float, y: float) -> str:
    """Which line is which."""
    dash = f' stroke-dasharray="{DASHES[name]}"' if DASHES.get(name) else ""
    stroke = f'<path d="M{x} {y - 4}h28" stroke="{LINES.get(name, "var(--ink)")}" stroke-width="2"{dash}/>'
    return stroke + _word(x + 33, y, name, "start", 12)


def _word(x: float, y: float, words: str, anchor: str, size: int, fill: str = "var(--ink)") -> str:  # noqa: PLR0917
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size}" fill="{fill}">{text(words)}</text>'
