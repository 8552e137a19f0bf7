"""One policy for keys, pressed on every page in every state: letters are text, pages take the focus and give it back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from by_hand import FAST, press, record_one_drive
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QAbstractSpinBox, QApplication, QLineEdit, QPushButton, QWidget

from gui.panels.key_host import Key, KeyHost
from gui.window import Window

PRINTABLE = [Qt.Key(code) for code in range(Qt.Key.Key_A.value, Qt.Key.Key_Z.value + 1)]
PRINTABLE += [Qt.Key(code) for code in range(Qt.Key.Key_0.value, Qt.Key.Key_9.value + 1)]
PRINTABLE += [Qt.Key.Key_Period, Qt.Key.Key_Comma, Qt.Key.Key_Minus, Qt.Key.Key_Plus, Qt.Key.Key_Question]
OTHERS = [Qt.Key.Key_Backspace, Qt.Key.Key_Delete, Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Tab]


def no_place() -> list[Path]:
    return []


def facts(window: Window) -> tuple[object, ...]:
    """What a stray key must not change."""
    workspace = window.workspace
    runs: Any = window.places.get("runs")
    record: Any = window.places.get("record")
    return (
        window.place.name, workspace.follow.recording, workspace.follow.connected, workspace.selection.strategy,
        workspace.settings.text("palette"), workspace.settings.text("course"), workspace.theme.name,
        runs is not None and runs.view is not None, record is not None and record.session.armed,
        sorted(path.name for path in workspace.folder.path.glob("*.h5")) if workspace.folder.path.exists() else [],
    )  # fmt: skip


def states(window: Window, qtbot: Any) -> Iterator[str]:
    """Every page, in each of the states that it can be in on a stocked folder without a robot."""
    window.show_place("start")
    yield "start"
    for name in ("live", "record", "colours"):
        window.show_place(name)
        yield name
    window.show_place("runs")
    runs: Any = window.place
    yield "runs, the list"
    runs.table.choose(window.workspace.folder.path / "practice 1.h5")
    runs.picker.map.setFocus()
    yield "runs, entering colours"
    runs.open(window.workspace.folder.path / "practice 1.h5")
    qtbot.waitUntil(lambda: runs.view.verdict is not None, timeout=30_000)
    yield "runs, a run"
    runs.show_list()
    window.show_place("decide")
    decide: Any = window.place
    qtbot.waitUntil(lambda: not decide.matrix.busy, timeout=60_000)
    yield "decide"


def test_a_stray_letter_does_nothing_on_any_page(stocked: Window, qtbot: Any) -> None:
    """With the focus where the page puts it, and then on each of its buttons."""
    removed: list[str] = []
    for state in states(stocked, qtbot):
        home = QApplication.focusWidget()
        assert home is not None, f"{state}: nothing has the focus"
        assert stocked.place.isAncestorOf(home), f"{state}: the focus is {home}, outside the page"
        buttons = [one for one in stocked.place.findChildren(QPushButton) if one.isVisible() and one.isEnabled()][:4]
        for widget in (home, *buttons):
            before = facts(stocked)
            for key in PRINTABLE:
                widget.setFocus()
                press(qtbot, stocked, key)
            if facts(stocked) != before:
                removed.append(f"{state}, on {widget.accessibleName() or type(widget).__name__}: {before} {facts(stocked)}")
        if state == "runs, the list":
            stocked.place.search.clear()  # type: ignore[attr-defined]
    assert not removed


def test_what_is_typed_into_a_field_arrives_whole(stocked: Window, qtbot: Any) -> None:
    for state in states(stocked, qtbot):
        if state == "runs, a run":
            continue
        for field in stocked.place.findChildren(QLineEdit):
            inside = isinstance(field.parentWidget(), QAbstractSpinBox)
            if not field.isVisible() or not field.isEnabled() or inside:
                continue
            before = facts(stocked)
            field.clear()
            field.setFocus()
            for letter in "rust r":
                qtbot.keyClicks(QApplication.focusWidget(), letter)
            assert field.text() == "rust r", f"{state}: {field.accessibleName()}"
            field.clear()
            assert facts(stocked) == before, state


def test_editing_keys_do_no_harm_on_any_page(window: Window, qtbot: Any) -> None:
    """Without a run, so that Delete has nothing to remove."""
    for name in window.titles:
        window.show_place(name)
        before = facts(window)
        for key in OTHERS:
            press(qtbot, window, key)
        assert facts(window) == before, name


def test_every_key_of_a_sheet_does_what_the_sheet_says(stocked: Window, qtbot: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """The sheet is the list that the keys are made from; so it is enough that each of these is heard on its page."""
    heard: list[str] = []

    class Probe(KeyHost):
        pass

    probe = Probe(stocked)
    for name in ("Ctrl+J", "F7", "Space", "Return", "Escape", "Delete", "Backspace"):
        probe.set_keys(Key(name, "a test", lambda name=name: heard.append(name)))
    inside = QWidget(probe)
    inside.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
    probe.show()
    inside.show()
    inside.setFocus()
    press(qtbot, stocked, Qt.Key.Key_J, Qt.KeyboardModifier.ControlModifier)
    for key in (
        Qt.Key.Key_F7,
        Qt.Key.Key_Space,
        Qt.Key.Key_Enter,
        Qt.Key.Key_Escape,
        Qt.Key.Key_Delete,
        Qt.Key.Key_Backspace,
    ):
        press(qtbot, stocked, key)
    assert heard == ["Ctrl+J", "F7", "Space", "Return", "Escape", "Delete", "Backspace"]
    probe.deleteLater()


def test_a_letter_cannot_be_made_a_command(window: Window) -> None:
    host = KeyHost(window)
    with pytest.raises(ValueError, match="is text"):
        host.set_keys(Key("R", "record", no_place))
    with pytest.raises(ValueError, match="is text"):
        host.set_keys(Key("Shift+R", "record", no_place))


def test_a_page_gives_the_focus_back(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    runs.remarks_field.setFocus()
    stocked.show_place("decide")
    assert stocked.place.isAncestorOf(QApplication.focusWidget())
    stocked.show_place("runs")
    assert QApplication.focusWidget() is runs.remarks_field


def test_the_search_keeps_the_focus_while_the_list_follows(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    assert QApplication.focusWidget() is runs.table
    for letter in "slip":
        qtbot.keyClicks(QApplication.focusWidget(), letter)
    assert runs.search.text() == "slip", "letters typed in the list are searched for"
    assert QApplication.focusWidget() is runs.search
    assert [entry.title for entry in runs.table.runs.entries] == ["slipping 102"]
    press(qtbot, stocked, Qt.Key.Key_Escape)
    assert not runs.search.text()
    assert QApplication.focusWidget() is runs.table


def test_return_in_a_number_field_opens_no_run(stocked: Window, qtbot: Any) -> None:
    stocked.show_place("decide")
    decide: Any = stocked.place
    qtbot.waitUntil(lambda: not decide.matrix.busy and decide.view.chosen() is not None, timeout=60_000)
    number = next(one for one in decide.settings.findChildren(QAbstractSpinBox) if one.isVisible())
    number.setFocus()
    press(qtbot, stocked, Qt.Key.Key_Return)
    assert stocked.place is decide


def test_backspace_steps_back_and_a_full_row_is_not_overwritten(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    picker = runs.picker
    picker.start(None)
    picker.map.setFocus()
    qtbot.keyClicks(picker.map, "SWLOL")
    assert picker.colours[:6] == ["sky", "white", "leaf", "orange", "leaf", None]
    press(qtbot, stocked, Qt.Key.Key_Backspace)
    press(qtbot, stocked, Qt.Key.Key_Backspace)
    assert picker.colours[:6] == ["sky", "white", "leaf", None, None, None]
    qtbot.keyClicks(picker.map, "OLPSWR")
    full = list(picker.colours)
    assert None not in full
    qtbot.keyClicks(picker.map, "PPP")
    assert picker.colours == full
    press(qtbot, stocked, Qt.Key.Key_Left)
    qtbot.keyClicks(picker.map, "P")
    assert picker.colours != full, "a slot chosen by hand can be filled otherwise"


def test_a_pointer_that_passes_by_does_not_move_the_sample_held(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    runs.open(stocked.workspace.folder.path / "practice 1.h5")
    stack = runs.view.stack
    qtbot.mouseMove(stack, QPoint(200, 100))
    qtbot.mouseMove(stack, QPoint(240, 100))
    hovered = stack.cursor_row
    assert hovered > 0, "nothing held: pointing is enough"
    press(qtbot, stocked, Qt.Key.Key_Right)
    held = stack.cursor_row
    assert held == hovered + 1
    qtbot.mouseMove(stack, QPoint(400, 100))
    assert stack.cursor_row == held


@pytest.mark.usefixtures("long_rests")
def test_after_a_run_letters_are_colours_and_return_goes_on(window: Window, qtbot: Any) -> None:
    """The whole of it without a pointer: record, enter, verdict, next."""
    window.workspace.follow.start_built_in("practice", 7, speed_up=FAST)
    qtbot.waitUntil(lambda: window.workspace.follow.run is not None, timeout=30_000)
    record_one_drive(window, qtbot)
    record: Any = window.place
    qtbot.waitUntil(lambda: record.asked is not None and not record.picker.problem(), timeout=30_000)
    assert record.isAncestorOf(QApplication.focusWidget())
    press(qtbot, window, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: record.verdict_card.verdict is not None, timeout=30_000)
    assert record.isAncestorOf(QApplication.focusWidget())
    press(qtbot, window, Qt.Key.Key_Return)
    assert record.pages.currentIndex() == 0, "ready for the next run"
    assert record.isAncestorOf(QApplication.focusWidget())
