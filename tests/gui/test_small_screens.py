"""Every page at three sizes, the smallest that of 1366 by 768 at 200 %: nothing scrolls sideways or lacks a name."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from by_hand import RUNS, press
from PySide6.QtCore import QEventLoop, QRectF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QVBoxLayout, QWidget
from seen_faults import faults_in, focus_fault, nameless

from gui.in_sight import bring_into_view, in_sight
from gui.panels.elided import Elided
from gui.panels.file_dialogs import file_dialog, fit_to_screen
from gui.panels.keys import KeysDialog
from gui.panels.parts import scrolled
from gui.places.place import SETTLES_MS
from gui.plots import margins
from gui.window import Window

SIZES = [(683, 384), (960, 540), (1366, 740)]
PAGES = ("start", "live", "record", "colours", "runs", "decide", "course", "match")


def settled(window: Window) -> None:
    """Layouts ask again when they have become narrower."""
    for _ in range(4):
        QApplication.processEvents(QEventLoop.ProcessEventsFlag.AllEvents, 50)
    window.grab()


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_every_page_is_whole(stocked: Window, qtbot: Any, width: int, height: int) -> None:
    stocked.resize(width, height)
    qtbot.waitUntil(lambda: stocked.width() == width, timeout=30_000)
    found: list[str] = []
    for page in PAGES:
        stocked.show_place(page)
        settled(stocked)
        found += [f"{page}: {fault}" for fault in faults_in(stocked)]
        found += [f"{page}: {one} has no name for a screen reader" for one in nameless(stocked)]
    runs: Any = stocked.places["runs"]
    stocked.show_place("runs")
    runs.open(stocked.workspace.folder.path / "slipping 102.h5")
    qtbot.waitUntil(lambda: runs.view is not None and runs.view.verdict is not None, timeout=60_000)
    settled(stocked)
    found += [f"an opened run: {fault}" for fault in faults_in(stocked)]
    decide: Any = stocked.places["decide"]
    qtbot.waitUntil(lambda: len(decide.matrix.paths) == len(RUNS) and not decide.matrix.busy, timeout=60_000)
    # The walk looks at the rest on a screen: while results arrive, a label may wait a moment for its room.
    found = [one for one in found if "scrolls sideways" in one or "no name" in one]
    assert not found, "\n".join(found)


@pytest.mark.parametrize("page", PAGES)
def test_tab_comes_around_on_every_page(stocked: Window, qtbot: Any, page: str) -> None:
    """No table keeps it for its cells: WCAG 2.2, criterion 2.1.2, no keyboard trap."""
    stocked.show_place(page)
    settled(stocked)
    stops: list[QWidget | None] = [QApplication.focusWidget()]
    while len(stops) < 80 and stops.count(stops[0]) < 2:
        press(qtbot, stocked, Qt.Key.Key_Tab)
        stops.append(QApplication.focusWidget())
    assert stops.count(stops[0]) == 2, f"{page}: Tab stays at {stops[-1] and stops[-1].accessibleName()}"
    assert len(stops) > 4


@pytest.mark.parametrize("page", PAGES)
def test_what_has_the_focus_is_seen(stocked: Window, qtbot: Any, page: str) -> None:
    """WCAG 2.2, criterion 2.4.11, at the smallest size."""
    stocked.resize(683, 384)
    qtbot.waitUntil(lambda: stocked.width() == 683, timeout=30_000)
    stocked.show_place(page)
    settled(stocked)
    first, seen = QApplication.focusWidget(), 0
    for _ in range(80):
        press(qtbot, stocked, Qt.Key.Key_Tab)
        now = QApplication.focusWidget()
        assert now is not None
        assert not now.visibleRegion().isEmpty(), f"{page}: {now.accessibleName() or now} has the focus out of sight"
        seen += 1
        if now is first:
            break
    assert seen > 4


def test_dialogs_are_no_larger_than_the_screen(stocked: Window, qtbot: Any) -> None:
    room = stocked.screen().availableGeometry()
    keys = KeysDialog(stocked.place, stocked)
    save = file_dialog(stocked, "Save", stocked.workspace.folder.path / "a.toml", "Courses (*.toml)", save=True)
    for dialog in (keys, save):
        qtbot.addWidget(dialog)
        assert dialog.minimumSizeHint().width() <= 600
        assert dialog.minimumSizeHint().height() <= 330, "also where that has 683 by 384 points"
        fit_to_screen(dialog, 5000, 5000)
        assert dialog.width() < room.width()
        assert dialog.height() < room.height()
    assert save.defaultSuffix() == "toml", "so that it asks before it writes over a file that is named without its ending"


def test_match_day_gives_a_maximised_window_back(window: Window, qtbot: Any) -> None:
    window.showMaximized()
    qtbot.waitUntil(window.isMaximized, timeout=30_000)
    window.go_to("match")
    qtbot.waitUntil(window.isFullScreen, timeout=30_000)
    window.go_to("runs")
    qtbot.waitUntil(window.isMaximized, timeout=30_000)
    window.showNormal()


def focus_in_sight() -> None:
    now = QApplication.focusWidget()
    assert now is not None
    assert in_sight(now), f"{now.accessibleName() or now} has the focus out of sight"
    assert not focus_fault()


def test_what_has_no_height_of_its_own_is_out_of_sight_all_the_same(qtbot: Any) -> None:
    """A plot says -1 for the height that it would like."""
    plot, words = QWidget(), QLabel("Words")
    for one in (plot, words):
        one.setFixedHeight(400)
    inside = QWidget()
    column = QVBoxLayout(inside)
    column.addWidget(words)
    column.addWidget(plot)
    area = scrolled(inside)
    qtbot.addWidget(area)
    area.resize(300, 200)
    area.show()
    assert plot.sizeHint().height() < 0, "else this test says nothing"
    qtbot.waitUntil(lambda: in_sight(words), timeout=30_000)
    assert not in_sight(plot)
    bring_into_view(plot)
    qtbot.waitUntil(lambda: in_sight(plot), timeout=30_000)


def test_plots_that_were_scrolled_away_are_in_sight_when_the_page_comes_back(stocked: Window, qtbot: Any) -> None:
    """As after *What arrives…*, which cannot be pressed without a robot."""
    stocked.resize(683, 384)
    qtbot.waitUntil(lambda: stocked.width() == 683, timeout=30_000)
    stocked.show_place("live")
    live: Any = stocked.places["live"]
    qtbot.wait(2 * SETTLES_MS[-1])
    bring_into_view(live.arrives_button)
    stocked.show_place("start")
    stocked.show_place("live")
    qtbot.waitUntil(focus_in_sight, timeout=30_000)


def test_where_the_page_scrolls_by_itself_the_focus_goes_along(stocked: Window, qtbot: Any) -> None:
    stocked.resize(683, 384)
    qtbot.waitUntil(lambda: stocked.width() == 683, timeout=30_000)
    stocked.show_place("decide")
    decide: Any = stocked.places["decide"]
    qtbot.waitUntil(lambda: len(decide.matrix.paths) == len(RUNS) and not decide.matrix.busy, timeout=60_000)
    qtbot.wait(2 * SETTLES_MS[-1])
    settled(stocked)
    for card in (decide.settings, decide.guard):
        decide.cards.show_in_view(card)
        focus_in_sight()
        assert card.isAncestorOf(QApplication.focusWidget())


@pytest.mark.parametrize("page", PAGES)
def test_a_page_opens_with_its_focus_in_sight(stocked: Window, qtbot: Any, page: str) -> None:
    """At 960 by 540 and below what is read first takes the room: then the focus is there."""
    for width, height in SIZES[:2]:
        stocked.resize(width, height)
        qtbot.waitUntil(lambda width=width: stocked.width() == width, timeout=30_000)
        stocked.show_place("start" if page != "start" else "live")
        settled(stocked)
        stocked.show_place(page)
        settled(stocked)
        if page == "decide":
            matrix = stocked.places["decide"].matrix  # type: ignore[attr-defined]
            qtbot.waitUntil(lambda matrix=matrix: len(matrix.paths) == len(RUNS) and not matrix.busy, timeout=60_000)
            settled(stocked)
        # Heights are asked for in several rounds, and the focus is looked after when they are over.
        qtbot.waitUntil(focus_in_sight, timeout=30_000)


def test_an_opened_run_has_its_focus_in_sight_when_the_verdict_has_come(stocked: Window, qtbot: Any) -> None:
    stocked.resize(683, 384)
    qtbot.waitUntil(lambda: stocked.width() == 683, timeout=30_000)
    runs: Any = stocked.places["runs"]
    runs.open(stocked.workspace.folder.path / "slipping 102.h5")
    qtbot.waitUntil(lambda: runs.view is not None and runs.view.verdict is not None, timeout=60_000)
    settled(stocked)
    qtbot.waitUntil(focus_in_sight, timeout=30_000)


def test_a_key_brings_back_what_was_scrolled_away(stocked: Window, qtbot: Any) -> None:
    """Nobody types blindly; a command, which is for the page, moves nothing."""
    stocked.resize(683, 384)
    qtbot.waitUntil(lambda: stocked.width() == 683, timeout=30_000)
    runs: Any = stocked.places["runs"]
    runs.table.setFocus()
    qtbot.wait(2 * SETTLES_MS[-1])  # when a page has opened, its focus is looked after for so long
    settled(stocked)
    bar = runs.cards.left.verticalScrollBar()
    bar.setValue(bar.maximum())
    settled(stocked)
    assert not in_sight(runs.table), "else this test says nothing"
    QTest.keyClick(stocked.windowHandle(), Qt.Key.Key_F2)
    assert not in_sight(runs.table)
    QTest.keyClick(stocked.windowHandle(), Qt.Key.Key_Down)
    assert QApplication.focusWidget() is runs.table
    assert in_sight(runs.table)


def test_no_value_beside_a_plot_is_cut(stocked: Window, qtbot: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a name and its values share a line, the name gives way: an odometer of 98. may be 98.9."""
    stocked.resize(683, 384)
    qtbot.waitUntil(lambda: stocked.width() == 683, timeout=30_000)
    runs: Any = stocked.places["runs"]
    runs.open(stocked.workspace.folder.path / "slipping 102.h5")
    stack = runs.view.stack
    shared, cut, paint = [], [], margins._paint_values

    def looked_at(stack: Any, painter: Any, strip: Any, room: QRectF, row: int) -> None:
        if room.height() == 16:
            texts = margins._values(stack, strip, row)
            shared.append(strip.spec.title)
            if margins._wide(stack, texts, below=len(texts) == 1) > room.width():
                cut.append((strip.spec.title, texts))
        paint(stack, painter, strip, room, row)

    monkeypatch.setattr(margins, "_paint_values", looked_at)
    for height in (300, 240):
        stack.setFixedHeight(height)
        settled(stocked)
        for row in range(0, stack.series.rows, 40):
            stack.set_cursor(row)
            stack.grab()
    assert {"Odometer", "Reflectance"} <= set(shared)
    assert not cut


def test_long_names_and_remarks_cut_nothing_else(stocked: Window, qtbot: Any) -> None:
    """What a user wrote ends in …, and is whole in its tip; the page stays as wide as the window."""
    stocked.resize(960, 540)
    qtbot.waitUntil(lambda: stocked.width() == 960, timeout=30_000)
    path = stocked.workspace.folder.path / "slipping 102.h5"
    words = "the third drive after lunch with the new wheels on the mat by the window " * 2
    assert stocked.workspace.shelf.relabel(path, "words", lambda meta: replace(meta, name=words, remarks=words))
    runs: Any = stocked.places["runs"]
    runs.open(path)
    qtbot.waitUntil(lambda: runs.view is not None and runs.view.verdict is not None, timeout=60_000)
    settled(stocked)
    assert runs.view.next_button.visibleRegion().boundingRect().width() == runs.view.next_button.width()
    shown = [one for one in runs.view.findChildren(Elided) if one.whole.startswith("the third")]
    assert shown[0].text().endswith("…")
    assert shown[0].accessibleName() == words
    assert "new wheels" in shown[0].toolTip()
    stocked.workspace.shelf.relabel(path, "words", lambda meta: replace(meta, name="Four", remarks=""))
    runs.open(path)
    settled(stocked)
    assert "Four" in [one.text() for one in runs.view.findChildren(Elided)], "what has room is whole"
