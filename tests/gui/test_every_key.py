"""Every key on every page in every state: nothing breaks, nothing is lost, and the focus is always seen somewhere."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from by_hand import FAST, RUNS, press, record_one_drive
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QDialog

from gui.window import Window

Key, Plain, Ctrl, Shift = (
    Qt.Key,
    Qt.KeyboardModifier.NoModifier,
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.ShiftModifier,
)
LETTERS = [Key(code) for code in range(Key.Key_A.value, Key.Key_Z.value + 1)]
DIGITS = [Key(code) for code in range(Key.Key_0.value, Key.Key_9.value + 1)]
FUNCTIONS = [Key.Key_F1, Key.Key_F2, Key.Key_F3, Key.Key_F5, Key.Key_F6, Key.Key_F10, Key.Key_F11]
OTHERS = [
    Key.Key_Space, Key.Key_Return, Key.Key_Enter, Key.Key_Escape, Key.Key_Delete, Key.Key_Backspace, Key.Key_Insert,
    Key.Key_Left, Key.Key_Right, Key.Key_Up, Key.Key_Down, Key.Key_Home, Key.Key_End, Key.Key_PageUp, Key.Key_PageDown,
    Key.Key_Tab, Key.Key_Backtab, Key.Key_Plus, Key.Key_Minus, Key.Key_Comma, Key.Key_Period, Key.Key_Question, Key.Key_Menu,
]  # fmt: skip
KEYS = [
    *((key, Plain) for key in (*LETTERS, *DIGITS[:2], *FUNCTIONS, *OTHERS)),
    *((key, Ctrl) for key in (*LETTERS, *DIGITS, Key.Key_Home, Key.Key_End) if key != Key.Key_Q),  # which ends the program
    *((key, Shift) for key in (Key.Key_F1, Key.Key_Left, Key.Key_Right, Key.Key_Tab)),
    *((key, Ctrl | Shift) for key in (Key.Key_C, Key.Key_N, Key.Key_R, Key.Key_S, Key.Key_Z)),
]

HERE = [(key, modifier) for key, modifier in KEYS if modifier != Ctrl or key not in DIGITS]
"""All but those that lead to another page from everywhere alike."""
Keys = list[tuple[Qt.Key, Qt.KeyboardModifier]]


@pytest.fixture(autouse=True)
def nobody_at_dialogs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Questions in dialogs are not answered: they close at once."""
    monkeypatch.setattr(QDialog, "exec", lambda *_: 0)


def press_all(window: Window, qtbot: Any, state: str, enter: Callable[[], object], keys: Keys = KEYS) -> None:
    """Each key in this state, which is entered anew where the key before has left it."""
    workspace = window.workspace
    enter()
    place = window.place.name
    runs = {path.name for path in workspace.folder.path.glob("*.h5")}
    for key, modifier in keys:
        if window.place.name != place or workspace.follow.recording:
            if workspace.follow.recording:
                workspace.follow.drop_recording()
            enter()
        press(qtbot, window, key, modifier)
        QApplication.processEvents()
        if window.guide is not None:
            window.guide.hide()
            window.activateWindow()
        focus = QApplication.focusWidget()
        said = f"{state}: {key.name} {modifier.name}"
        assert window.isVisible(), said
        assert focus is None or focus.isVisible(), f"{said}: the focus is on {focus.accessibleName()}, which is not seen"
        assert window.place.isVisible(), said
        if window.isFullScreen():
            window.showNormal()
    while workspace.undo.canUndo():
        workspace.undo.undo()
    qtbot.waitUntil(lambda: runs <= {path.name for path in workspace.folder.path.glob("*.h5")}, timeout=30_000)


PAGES = ("start", "live", "record", "colours", "course", "match", "runs")


@pytest.mark.parametrize("page", PAGES)
def test_every_key_without_a_robot(stocked: Window, qtbot: Any, page: str) -> None:
    press_all(stocked, qtbot, page, lambda: stocked.show_place(page), KEYS if page == "start" else HERE)


def test_every_key_while_decide_replays_and_when_it_has(stocked: Window, qtbot: Any) -> None:
    press_all(stocked, qtbot, "decide, replaying", lambda: stocked.show_place("decide"), HERE)
    decide: Any = stocked.places["decide"]
    qtbot.waitUntil(lambda: len(decide.matrix.paths) == len(RUNS) and not decide.matrix.busy, timeout=60_000)
    press_all(stocked, qtbot, "decide", lambda: stocked.show_place("decide"), HERE)
    qtbot.waitUntil(lambda: not decide.matrix.busy and not decide.guard._jobs.busy, timeout=60_000)


def test_every_key_on_an_opened_run_a_pair_and_in_the_fields(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    folder: Path = stocked.workspace.folder.path

    def opened() -> None:
        stocked.show_place("runs")
        runs.open(folder / "slipping 102.h5")

    def pair() -> None:
        stocked.show_place("runs")
        runs.show_list()
        runs.table.choose(folder / "practice 1.h5", folder / "venue 103.h5")
        runs.open_pair()

    def entering() -> None:
        stocked.show_place("runs")
        runs.show_list()
        runs.table.choose(folder / "practice 2.h5")
        runs.picker.map.setFocus()

    def searching() -> None:
        stocked.show_place("runs")
        runs.show_list()
        runs.search.setFocus()

    for state, enter in (("a run", opened), ("two runs", pair), ("colours", entering), ("search", searching)):
        press_all(stocked, qtbot, state, enter, HERE)
    runs.show_list()


@pytest.mark.usefixtures("long_rests")
def test_every_key_with_a_robot_at_the_colours_and_at_the_verdict(window: Window, qtbot: Any) -> None:
    follow = window.workspace.follow
    follow.start_built_in("practice", 7, speed_up=FAST)
    qtbot.waitUntil(lambda: follow.run is not None, timeout=30_000)
    kept = record_one_drive(window, qtbot)
    record: Any = window.places["record"]
    qtbot.waitUntil(lambda: record.asked is not None, timeout=30_000)
    record.session.arm(False)
    press_all(window, qtbot, "record, the colours", lambda: window.show_place("record", kept), HERE)
    window.show_place("record", kept)
    qtbot.waitUntil(lambda: record.asked is not None, timeout=30_000)
    for page in ("live", "colours"):
        press_all(window, qtbot, f"{page}, driving", lambda page=page: window.show_place(page), HERE)  # type: ignore[misc]
    record.session.arm(False)
    follow.disconnect_robot()
