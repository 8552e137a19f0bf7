"""Margins and the map of the settings as pages: the answer in words, the picture, and the figures one by one."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePath

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout

from gui.panels.parts import Card, Label
from gui.plots.cell_picture import Cell, CellGrid, CellPicture
from gui.theme import Theme
from gui.words import runs, tr
from telemetry.report.margin_words import digits, recorded, span, unit_words
from telemetry.report.stress_text import UNSEEN, dark_words, failure_words, headline, limit_words, pair_words
from telemetry.report.tune_map import TuneMap, map_of
from telemetry.report.tune_text import explained, other_word, room_words
from telemetry.report.tune_text import headline as advice
from telemetry.tuning.crossing import RIGHT_SHARE
from telemetry.tuning.pairs import DirectionPair
from telemetry.tuning.stress import Stress
from telemetry.tuning.tune import Tuning

MAP_VALUES = 12


class Page(Card):
    """``picture`` None: there is none to show, and the words say why. Its ground is its own: pictures are kept of it."""

    def __init__(self) -> None:
        super().__init__()
        self.picture: CellPicture | None = None
        self.column.setSpacing(10)

    def say(self, words: str, kind: str = "") -> None:
        self.column.addWidget(Label(words, kind, wrap=True))

    def show_picture(self, picture: CellPicture) -> None:
        self.picture = picture
        self.column.addWidget(picture)

    def list_figures(self, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """Under their headings; where there is no room for all, the words go on below."""
        grid = QGridLayout()
        grid.setHorizontalSpacing(18)
        for k, head in enumerate(heads):
            grid.addWidget(Label(head, "soft", wrap=True), 0, k, Qt.AlignmentFlag.AlignTop)
        for i, row in enumerate(rows, start=1):
            for k, words in enumerate(row):
                grid.addWidget(Label(words, wrap=True), i, k, Qt.AlignmentFlag.AlignTop)
        grid.setColumnStretch(len(heads) - 1, 1)
        self.column.addLayout(grid)


def margins_page(found: Stress, theme: Theme) -> Page:
    """How far each thing may go, and speed with height."""
    page = Page()
    page.say(headline(found), "large")
    kind = tr("simulated runs") if found.simulated else tr("runs")
    page.say(
        tr(
            "{strategy}: {right} of {judged} {kind} correct as recorded. Altered on the computer, not recorded: each was "
            "changed in one thing and read again, until fewer than 95 % of as many were correct.",
            strategy=found.strategy, right=found.runs, judged=found.judged, kind=kind,
        ), "soft",
    )  # fmt: skip
    units = {one.of: one.unit for one in found.margins}
    for pair in found.pairs:
        page.show_picture(CellPicture(_pair_cells(pair, units), theme))
        page.say(
            tr("Altered runs read correctly, of as many as are so as recorded: ✓ at least 95 %, ~ less, ✗ less than half "
               "(without a figure: not tried)."),
            "soft",
        )
        words = pair_words(pair, units[pair.first], units[pair.second])
        if words:
            page.say(words, "soft")
    if not found.pairs:
        why = dict(found.not_possible)
        reason = why.get("speed") or why.get("height") or tr("not tried")
        page.say(tr("No picture of speed and height: {reason}.", reason=reason), "soft")
    rows = [
        (one.what, recorded(one.recorded, one.unit), limit_words(one), span(one.interval95, one.unit),
         failure_words(one).removesuffix(".h5"))
        for one in found.margins
    ]  # fmt: skip
    heads = (tr("how far with"), tr("as recorded"), tr("correct up to"), tr("95 % interval"), tr("first to fail"))
    page.list_figures(heads, rows)
    if any(one.interval95 for one in found.margins):
        page.say(UNSEEN, "soft")
    if found.rests_on_dark:
        page.say(dark_words(found.rests_on_dark), "soft")
    for name, reason in found.not_possible:
        page.say(tr("{name}: not possible, {reason}.", name=name, reason=reason), "soft")
    page.column.addStretch(1)
    return page


def _axis(of: str, unit: str) -> str:
    return f"{of}, {unit_words(unit)}"


def _pair_cells(pair: DirectionPair, units: dict[str, str]) -> CellGrid:
    cells = [[_share_cell(share) for share in row] for row in pair.shares]
    return CellGrid(
        _axis(pair.first, units[pair.first]), _axis(pair.second, units[pair.second]),
        [digits(value, units[pair.first]) for value in pair.first_values],
        [digits(value, units[pair.second]) for value in pair.second_values], cells,
    )  # fmt: skip


def _share_cell(share: float | None) -> Cell:
    if share is None:
        return Cell("✗", "bad")
    good = share >= RIGHT_SHARE - 1e-9
    sign, kind = ("✓", "good") if good else ("✗", "bad") if share < 0.5 else ("~", "warn")
    return Cell(f"{sign} {100 * share:.0f} %", kind)


def tuning_page(found: Tuning, theme: Theme) -> Page:
    """What to set, the map of what was tried, and how far each setting may be off."""
    page = Page()
    page.say(" ".join(line.strip() for line in advice(found)), "large")
    kind = tr("All of these runs are simulated.") if found.simulated else ""
    page.say(
        tr("{strategy} on {runs}: {tried} settings tried.", strategy=found.strategy.name, runs=runs(len(found.judged)),
           tried=found.tried) + f" {kind}", "soft",
    )  # fmt: skip
    shown = map_of(found, MAP_VALUES)
    if shown is None:
        page.say(tr("No map: it needs two settings that change what is read, each tried in all of its values."), "soft")
    else:
        page.show_picture(CellPicture(_map_cells(shown, len(found.judged), found.least), theme))
        page.say(
            tr("Runs read correctly: ✓ as many as recommended, ~ fewer, ✗ less than half. Framed: ★ recommended, ○ today. "
               "Other settings are as recommended."), "soft",
        )  # fmt: skip
    rows = [
        (name, str(found.now.settings[name]), str(found.recommended.settings[name]), f"{low} – {high}",
         room_words(found, name))
        for name, (low, high) in found.works.items()
    ]  # fmt: skip
    page.list_figures((tr("setting"), tr("today"), tr("recommended"), tr("works from – to"), ""), rows)
    tries = [
        (name, tr("{right} of {runs}", right=one.correct, runs=len(found.judged)),
         "–" if one.left_out is None else tr("{right} of {runs}", right=one.left_out, runs=len(found.judged)),
         "–" if one.altered is None else f"{100 * one.altered:.0f} %",
         "–" if one.decided_ms is None else f"{one.decided_ms / 1000:.2f} s")
        for name, one in ((tr("today"), found.now), (tr(other_word(found)), found.best))
    ]  # fmt: skip
    page.list_figures((tr("settings"), tr("correct"), tr("left out"), tr("altered"), tr("decided after")), tries)
    page.say(" ".join(line.strip() for line in explained(found)), "soft")
    for name, reason in found.apart[:1]:
        left = tr("{n} not judged, e.g. {name}: {reason}.", n=len(found.apart), name=PurePath(name).stem, reason=reason)
        page.say(left, "soft")
    page.column.addStretch(1)
    return page


def _map_cells(shown: TuneMap, judged: int, least: int) -> CellGrid:
    def cell(i: int, k: int) -> Cell:
        right = shown.right[i][k]
        sign, kind = ("✓", "good") if right >= least else ("✗", "bad") if 2 * right < judged else ("~", "warn")
        marks = f"{'★' if (i, k) == shown.recommended else ''}{'○' if (i, k) == shown.today else ''}"
        return Cell(f"{marks}{sign} {right}", kind, bool(marks))

    return CellGrid(
        shown.down, shown.across, [str(value) for value in shown.rows], [str(value) for value in shown.columns],
        [[cell(i, k) for k in range(len(shown.columns))] for i in range(len(shown.rows))],
    )  # fmt: skip
