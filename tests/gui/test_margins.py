"""Margins and the map of the settings, as the window shows them: what stress and tune found, or nothing once cancelled."""

from __future__ import annotations

import time
from collections.abc import Iterator
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from by_hand import RUNS, click
from PySide6.QtCore import Qt

from gui.panels.margins_dialog import MarginsDialog
from gui.panels.margins_page import Page
from gui.window import Window
from telemetry.reading.load import load_strategy
from telemetry.replay.scoring.results import ROBOT
from telemetry.tuning.directions import asked_directions
from telemetry.tuning.evaluate import SettingsSweep
from telemetry.tuning.runs import saved_runs
from telemetry.tuning.stress import stress
from telemetry.tuning.tune import tune

FEW = partial(stress, directions=asked_directions("speed,height"), seeds=1)


@pytest.fixture
def dialog(window: Window, ready: Path, qtbot: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[MarginsDialog]:
    """On two easy runs, not compiled, few directions: a matter of seconds."""
    monkeypatch.setattr("gui.model.stressing.stress", FEW)
    monkeypatch.setattr("telemetry.tuning.evaluate._has_numba", lambda: False)
    paths = sorted(ready.glob("practice*.h5"))
    made = MarginsDialog([("windows", "windows")], "windows", paths, folder=ready, palette="", theme=window.workspace.theme,
                         parent=window)  # fmt: skip
    made.show()
    yield made
    made.close()


def done(dialog: MarginsDialog, qtbot: Any) -> Any:
    qtbot.waitUntil(lambda: dialog.page is not None and dialog.margins_button.isEnabled(), timeout=90_000)
    return dialog.page


def test_the_margins_are_those_of_stress_with_a_sign_and_a_figure_each(dialog: MarginsDialog, qtbot: Any) -> None:
    click(qtbot, dialog.margins_button)
    assert dialog.progress.isVisible()
    assert not dialog.tune_button.isEnabled()
    shown = done(dialog, qtbot).picture.shown
    found = FEW(saved_runs(dialog.paths).runs, load_strategy("windows"), evaluator=SettingsSweep(compiled=False))
    (pair,) = found.pairs
    assert [[cell.text[1:].strip() for cell in row] for row in shown.cells] == [
        ["" if share is None else f"{100 * share:.0f} %" for share in row] for row in pair.shares
    ]
    for row, shares in zip(shown.cells, pair.shares, strict=True):
        for cell, share in zip(row, shares, strict=True):
            assert (cell.text[0] == "✓") == ((share or 0.0) >= 0.95), "the sign says it without its colour"
    assert "simulated" in " ".join(label.text() for label in dialog.findChildren(type(dialog.words)))


def test_the_map_is_that_of_tune_with_today_and_recommended_marked(
    dialog: MarginsDialog, qtbot: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("gui.model.stressing.altered_copies", lambda _runs: [])
    click(qtbot, dialog.tune_button)
    shown = done(dialog, qtbot).picture.shown
    found = tune(saved_runs(dialog.paths).runs, load_strategy("windows"), evaluator=SettingsSweep(compiled=False))
    assert found.map is not None
    assert (shown.down, shown.across) == (found.axes[0].name, found.axes[1].name)
    texts = {cell.text for row in shown.cells for cell in row}
    assert {int(text.split()[1]) for text in texts} <= set(found.map.ravel().tolist())
    assert sum("★" in cell.text for row in shown.cells for cell in row) == 1
    assert sum("○" in cell.text for row in shown.cells for cell in row) == 1
    dialog.save(tmp_path / "map.png")
    assert (tmp_path / "map.png").stat().st_size > 1000


def test_by_keys_alone(dialog: MarginsDialog, qtbot: Any) -> None:
    """Tab to what is wanted, Space does it, Tab again to the picture, Escape closes."""
    dialog.activateWindow()
    dialog.strategy.setFocus()

    def tab_to(wanted: Any) -> None:
        for _ in range(12):
            if dialog.focusWidget() is wanted:
                return
            qtbot.keyClick(dialog.focusWidget(), Qt.Key.Key_Tab)
        raise AssertionError(f"Tab does not reach {wanted.text()}")

    tab_to(dialog.margins_button)
    qtbot.keyClick(dialog.margins_button, Qt.Key.Key_Space)
    assert dialog.focusWidget() is dialog.cancel_button, "Space cancels while it works"
    page = done(dialog, qtbot)
    qtbot.waitUntil(lambda: dialog.focusWidget() is dialog.margins_button, timeout=10_000)
    assert page.picture.accessibleDescription().count("%") >= 6, "what the picture shows is told too"
    tab_to(dialog.save_button)
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert not dialog.isVisible()


def test_cancelling_shows_nothing_and_lets_begin_anew(
    dialog: MarginsDialog, qtbot: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def endless(*_given: object, progress: Any, **_more: object) -> None:
        for number in count():
            progress("speed", number, number + 1)
            time.sleep(0.002)

    monkeypatch.setattr("gui.model.stressing.stress", endless)
    click(qtbot, dialog.margins_button)
    qtbot.waitUntil(lambda: "speed" in dialog.words.text(), timeout=60_000)
    click(qtbot, dialog.cancel_button)
    qtbot.waitUntil(dialog.margins_button.isEnabled, timeout=60_000)
    assert dialog.page is None
    assert "Cancelled" in dialog.words.text()
    assert not dialog.copy_button.isVisible()


def test_runs_that_are_gone_are_said(dialog: MarginsDialog, qtbot: Any, tmp_path: Path) -> None:
    dialog.paths = [tmp_path / "gone.h5"]
    click(qtbot, dialog.margins_button)
    qtbot.waitUntil(dialog.margins_button.isEnabled, timeout=60_000)
    assert dialog.page is None
    assert "gone.h5" in dialog.words.text()


def test_a_report_of_the_runs_shown_says_what_decide_says(stocked: Window, qtbot: Any, tmp_path: Path) -> None:
    stocked.show_place("decide")
    decide: Any = stocked.place
    qtbot.waitUntil(lambda: len(decide.matrix.paths) == len(RUNS) and not decide.matrix.busy, timeout=60_000)
    decide.more.write_report(tmp_path / "report.html")
    qtbot.waitUntil(lambda: "a report of 4 runs" in stocked.message_bar.text, timeout=60_000)
    page = (tmp_path / "report.html").read_text(encoding="utf-8")
    for column in decide.view.cells.shown:
        summary = decide.matrix.summary(column)
        if summary.runs and column != ROBOT:
            assert column in page
            assert f"{summary.correct} of {summary.runs}" in page
    for path in decide.matrix.paths:
        assert path.name in page
    assert "simulated" in page
    assert "https://" not in page, "complete in itself"
    assert "src=" not in page


def test_at_the_smallest_size_nothing_scrolls_sideways(qtbot: Any, dialog: MarginsDialog) -> None:
    """683 by 384 points, less a frame: with the longest words that the figures have, and strategies of long names."""
    page = Page()
    page.list_figures(
        ("how far with", "as recorded", "correct up to", "95 % interval", "first to fail"),
        [("brightness of the lamps", "100 % of today's", "130 % and more, not tried further", "110 to 150 % of today's",
          "slipping 102 at tag 2, then extreme 3 at crate 1")] * 3,
    )  # fmt: skip
    assert page.minimumSizeHint().width() <= 600
    dialog.strategy.addItem("a strategy of one's own whose name goes on and on as changed")
    dialog.strategy.setCurrentIndex(dialog.strategy.count() - 1)
    assert dialog.minimumSizeHint().width() <= 600
