"""The shell: places by mouse and key, the look, what is remembered, errors where they happen."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from by_hand import click, press
from PySide6.QtCore import QMimeData, QPoint, QPointF, QRect, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDragLeaveEvent, QDropEvent
from PySide6.QtWidgets import QAbstractButton, QAbstractItemView, QApplication, QLabel, QLineEdit, QWidget

from gui.panels.file_dialogs import folder_dialog
from gui.panels.flow import FlowLayout
from gui.shell import make_window
from gui.window import MAKERS, Window
from telemetry.sources.synthetic.run import built_in_course, simulate

PLACES = ("start", *MAKERS)


@pytest.mark.parametrize(("number", "name"), list(enumerate(PLACES, 1)))
def test_every_place_by_key_and_by_mouse(window: Window, qtbot: Any, number: int, name: str) -> None:
    press(qtbot, window, Qt.Key(Qt.Key.Key_0 + number), Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: window.place.name == name, timeout=30_000)
    assert window.rail.buttons[name].isChecked()
    other = PLACES[number % len(PLACES)]
    if window.place.alone:  # nothing stands around it; Escape leads back
        press(qtbot, window, Qt.Key.Key_Escape)
    click(qtbot, window.rail.buttons[other])
    assert window.place.name == other


def test_dark_and_light_by_key_and_kept(window: Window, qtbot: Any, tmp_path: Path, folder: Path) -> None:
    press(qtbot, window, Qt.Key.Key_D, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: window.workspace.theme.name == "dark", timeout=30_000)
    window.close()
    again = make_window(tmp_path / "settings.ini", folder)
    assert again.workspace.theme.name == "dark"
    again.close()
    again.deleteLater()


def test_every_place_has_names_for_a_screen_reader(window: Window, qtbot: Any) -> None:
    nameless = []
    for name in PLACES:
        window.show_place(name)
        for widget in window.findChildren(QWidget):
            if widget.focusPolicy() == Qt.FocusPolicy.NoFocus or not widget.isVisible():
                continue
            if isinstance(widget, QLineEdit) and widget.parent().inherits("QAbstractSpinBox"):
                continue
            internal = (
                widget.objectName().startswith("qt_") or widget.inherits("QScrollArea") or widget.inherits("QHeaderView")
            )
            ours = isinstance(widget, QAbstractButton | QLineEdit) or type(widget).__module__.startswith("gui.")
            is_place = widget is window.places.get(name)
            if ours and not internal and not is_place and not (widget.accessibleName() or getattr(widget, "text", str)()):
                nameless.append(f"{name}: {type(widget).__name__}")
    assert not nameless


@pytest.mark.parametrize("name", PLACES)
def test_nothing_is_cut_off_in_a_small_window(window: Window, qtbot: Any, name: str) -> None:
    """960 by 540: what a screen of 1920 by 1080 has at 200 %."""
    window.show_place(name)
    window.resize(960, 540)
    qtbot.waitUntil(lambda: window.width() == 960, timeout=30_000)
    qtbot.wait(50)
    cut = [button.text() for button in window.findChildren(QAbstractButton)
           if button.isVisible() and button.text() and button.width() < button.sizeHint().width() - 1]  # fmt: skip
    assert not cut
    assert not overlaps(window)


def overlaps(window: Window) -> list[str]:
    """Buttons that lie over a plot, table or list, or the other way round."""
    large = [view for view in window.findChildren(QWidget) if view.isVisible()
             and (isinstance(view, QAbstractItemView) or type(view).__module__.startswith("gui.plots."))]  # fmt: skip
    found = []
    for button in window.findChildren(QAbstractButton):
        if not button.isVisible() or button.visibleRegion().isEmpty():
            continue
        mine = QRect(button.mapTo(window, QPoint(0, 0)), button.size())
        for view in large:
            theirs = QRect(view.mapTo(window, QPoint(0, 0)), view.size())
            if not view.isAncestorOf(button) and view.parentWidget() is button.parentWidget() and mine.intersects(theirs):
                found.append(f"{button.text()} and {type(view).__name__}")
    return found


@pytest.mark.parametrize("name", PLACES)
def test_no_layout_goes_round_for_ever(
    window: Window, qapp: QApplication, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    rounds: list[int] = []
    original = FlowLayout.setGeometry

    def counted(self: FlowLayout, rect: QRect) -> None:
        rounds.append(1)
        original(self, rect)

    monkeypatch.setattr(FlowLayout, "setGeometry", counted)
    window.show_place(name)
    for width in (960, 1360, 1100):
        window.resize(width, 700)
        for _ in range(60):
            qapp.processEvents()
    settled = len(rounds)
    for _ in range(60):
        qapp.processEvents()
    assert len(rounds) - settled <= 3, "an idle window lays nothing out"


def test_a_record_key_without_a_robot_says_what_to_do(window: Window, qtbot: Any) -> None:
    window.show_place("runs")
    press(qtbot, window, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: window.place.name == "start", timeout=30_000)
    assert "robot" in window.message_bar.text


def test_a_port_that_does_not_exist_is_said_in_one_sentence(window: Window, qtbot: Any, tmp_path: Path) -> None:
    start: Any = window.places["start"]
    missing = str(tmp_path / "no-such-port")
    start.address.setFocus()
    qtbot.keyClicks(start.address, missing)
    click(qtbot, start.connect_button)
    qtbot.waitUntil(lambda: bool(window.message_bar.text), timeout=30_000)
    assert "no-such-port" in window.message_bar.text
    assert "Traceback" not in window.message_bar.text
    assert not window.workspace.follow.connected


def drop(window: Window, *paths: Path) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    window.dropEvent(QDropEvent(QPointF(300, 300), Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton,
                                Qt.KeyboardModifier.NoModifier))  # fmt: skip


def test_a_stream_dropped_on_the_window_becomes_a_run_and_opens(window: Window, qtbot: Any, tmp_path: Path) -> None:
    run = simulate("practice", 3)
    text = tmp_path / "fetched.txt"
    text.write_bytes(run.data)
    drop(window, text)
    qtbot.waitUntil(lambda: window.place.name == "runs", timeout=30_000)
    view = getattr(window.place, "view", None)
    assert view is not None
    assert view.run.recording.table.rows == view.stack.series.rows > 300
    qtbot.waitUntil(lambda: view.verdict is not None, timeout=30_000)


def test_rubbish_dropped_on_the_window_is_refused_in_words(window: Window, qtbot: Any, tmp_path: Path) -> None:
    rubbish = tmp_path / "picture.png"
    rubbish.write_bytes(b"no picture")
    broken = tmp_path / "broken.h5"
    broken.write_bytes(b"no recording")
    drop(window, rubbish)
    assert "picture.png" in window.message_bar.text
    drop(window, broken)
    qtbot.waitUntil(lambda: "broken.h5" in window.message_bar.text, timeout=30_000)  # it is read on a thread


def test_a_course_dropped_on_the_window_is_used(window: Window, qtbot: Any, tmp_path: Path) -> None:
    course = tmp_path / "mine.toml"
    course.write_text(built_in_course().text.replace('"Orchard Row"', '"Plum Lane"'), encoding="utf-8")
    drop(window, course)
    assert window.workspace.selection.course.name == "Plum Lane"
    start: Any = window.places["start"]
    assert start.course_name.text() == "Plum Lane"


def test_the_sheet_of_keys_shows_the_keys_of_the_place(window: Window, qtbot: Any) -> None:
    from gui.panels.keys import KeysDialog

    window.show_place("record")
    sheet = KeysDialog(window.place, window)
    words = [label.text() for label in sheet.findChildren(QLabel)]
    assert "new layout" in words
    assert "record a run, or end it and keep it" in words
    sheet.deleteLater()


def test_heavy_parts_are_not_loaded_before_the_first_picture() -> None:
    code = (
        "import sys; from gui.application import make_application; make_application();"
        "from gui.window import Window; import gui.shell;"
        "print(sorted({'numpy', 'h5py', 'pyqtgraph', 'numba', 'serial', 'bleak', 'scipy'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_copying_plots_as_picture_and_table(driving: Window, qtbot: Any) -> None:
    driving.show_place("live")
    live: Any = driving.places["live"]
    qtbot.waitUntil(lambda: live.stack.series.rows > 100, timeout=30_000)
    live.stack.setFocus()
    press(qtbot, driving, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: not QApplication.clipboard().pixmap().isNull(), timeout=30_000)
    press(qtbot, driving, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    qtbot.waitUntil(lambda: QApplication.clipboard().text().startswith("time/s\tway/cm"), timeout=30_000)
    lines = QApplication.clipboard().text().splitlines()
    assert len(lines) > 50
    assert len({line.count("\t") for line in lines}) == 1


def test_sample_runs_are_copied_and_shown(window: Window, qtbot: Any, folder: Path) -> None:
    start: Any = window.place
    click(qtbot, start.samples_button)
    there = sorted(path.name for path in (folder.parent / "Sidelong samples").glob("*.h5"))
    assert there == sorted(path.name for path in (Path(__file__).parents[2] / "recordings").glob("*.h5"))
    qtbot.waitUntil(lambda: len(window.workspace.shelf.entries) == len(there), timeout=30_000)
    assert window.place.name == "runs"


def drag(window: Window, *paths: Path) -> QDragEnterEvent:
    """What Qt tells the window while these are held over it."""
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    event = QDragEnterEvent(QPoint(300, 300), Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton,
                            Qt.KeyboardModifier.NoModifier)  # fmt: skip
    event.ignore()
    window.dragEnterEvent(event)
    return event


def test_what_can_be_dropped_shows_where_and_what_for(window: Window, tmp_path: Path) -> None:
    (tmp_path / "hall").mkdir()
    for name, words in (("a.h5", "open the run a"), ("log.txt", "make a recording of log.txt"),
                        ("c.toml", "course, palette or strategy"), ("hall", "the runs in hall")):  # fmt: skip
        assert drag(window, tmp_path / name).isAccepted()
        assert window.veil is not None
        assert window.veil.isVisible()
        assert words in window.veil.words
        assert window.veil.size() == window.stage.size()
        window.dragLeaveEvent(QDragLeaveEvent())
        assert not window.veil.isVisible()
    assert not drag(window, tmp_path / "song.mp3").isAccepted(), "what cannot be opened is not taken"
    assert drag(window, tmp_path / "a.h5", tmp_path / "b.h5").isAccepted()
    assert "2 files" in window.veil.words  # type: ignore[union-attr]


def test_the_question_for_a_folder_fits_the_screen(window: Window, qtbot: Any) -> None:
    dialog = folder_dialog(window, "A folder of runs", window.workspace.folder.path)
    qtbot.addWidget(dialog)
    room = window.screen().availableGeometry()
    assert dialog.width() <= room.width()
    assert dialog.height() <= room.height()
    assert dialog.minimumSizeHint().height() <= 480, "also on a screen of 1920 by 1080 at 200 %"


def test_the_bar_gives_way_in_order_and_cuts_nothing(driving: Window, qtbot: Any) -> None:
    """While a run is recorded, on a screen of 1920 by 1080 at 200 %: its key is whole, what matters less is gone."""
    driving.resize(960, 540)
    driving.workspace.follow.start_recording()
    qtbot.waitUntil(lambda: driving.record_button.text().startswith("Stop and keep"), timeout=30_000)
    qtbot.waitUntil(lambda: driving.width() == 960 and "lines/s" in driving.link.text(), timeout=30_000)
    shown = lambda: [one for one in driving.bar.findChildren(QWidget) if one.isVisible()]  # noqa: E731
    qtbot.waitUntil(lambda: not [one for one in shown() if one.width() < one.sizeHint().width()], timeout=30_000)
    assert driving.record_button in shown()
    assert driving.link in shown(), "it says that the robot is simulated"
    assert not driving.look_button.isVisible()
    driving.resize(1500, 700)
    qtbot.waitUntil(driving.look_button.isVisible, timeout=30_000)
    assert driving.sim.isVisible()


@pytest.mark.parametrize("height", [540, 600, 700])
def test_all_places_show_their_key_or_none_does(window: Window, qtbot: Any, height: int) -> None:
    window.resize(960, height)
    qtbot.waitUntil(lambda: window.height() == height, timeout=30_000)
    assert len({made.keyed for made in window.rail.buttons.values()}) == 1
    assert all(made.height() >= 46 for made in window.rail.buttons.values())
