"""What stood there, filled in by hand: nothing typed or tapped is lost, doubled or put elsewhere."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from by_hand import FAST, click, press, record_one_drive
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLineEdit

from gui.model.ingesting import ingest
from gui.window import Window
from telemetry.course import Truth
from telemetry.errors import StorageError
from telemetry.recording.load import load
from telemetry.recording.meta import Meta
from telemetry.sources.synthetic.run import simulate


@pytest.fixture
def two(folder: Path, window: Window, qtbot: Any) -> Window:
    """Two runs, the truth of neither is known; the first of the list is chosen."""
    folder.mkdir(exist_ok=True)
    for seed in (1, 2):
        run = simulate("practice", seed)
        text = folder / f"run {seed}.txt"
        text.write_bytes(run.data)
        ingest(text, folder, Meta(course=run.course.text, simulated=True))
    window.workspace.shelf.refresh()
    window.show_place("runs")
    qtbot.waitUntil(lambda: len(window.workspace.shelf.entries) == 2, timeout=30_000)
    runs: Any = window.place
    runs.table.choose(folder / "run 1.h5")
    return window


def tap_all(runs: Any, qtbot: Any, truth: Truth) -> None:
    runs.picker.map.choose(0)
    for colour in truth:
        click(qtbot, runs.picker.colour_buttons[colour])


def test_return_confirms_what_was_tapped_and_taps_nothing_again(two: Window, qtbot: Any, folder: Path) -> None:
    runs: Any = two.place
    truth = simulate("practice", 1).truth
    tap_all(runs, qtbot, truth[:-1])
    press(qtbot, two, Qt.Key.Key_Return)
    assert runs.picker.colours[:-1] == list(truth[:-1])
    assert runs.picker.colours[-1] is None
    assert runs.view is None, "nor is the run opened"
    click(qtbot, runs.picker.colour_buttons[truth[-1]])
    press(qtbot, two, Qt.Key.Key_Return)
    assert load(folder / "run 1.h5").truth == truth
    assert runs.view is None


def test_what_was_not_confirmed_is_offered_when_the_place_is_left(two: Window, qtbot: Any, folder: Path) -> None:
    truth = simulate("practice", 1).truth
    tap_all(two.place, qtbot, truth)
    two.show_place("start")
    assert "run 1 were not saved" in two.message_bar.text
    assert load(folder / "run 1.h5").truth is None
    click(qtbot, two.message_bar.act_button)
    assert load(folder / "run 1.h5").truth == truth


def test_what_was_not_confirmed_is_offered_when_another_run_is_chosen(two: Window, qtbot: Any, folder: Path) -> None:
    runs: Any = two.place
    truth = simulate("practice", 1).truth
    tap_all(runs, qtbot, truth)
    runs.table.choose(folder / "run 2.h5")
    assert runs.picker.colours == [None] * len(truth)
    assert "run 1 were not saved" in runs.window().message_bar.text
    click(qtbot, runs.window().message_bar.act_button)
    assert load(folder / "run 1.h5").truth == truth
    assert load(folder / "run 2.h5").truth is None


def test_half_of_it_is_not_kept_and_that_is_said(two: Window, qtbot: Any, folder: Path) -> None:
    runs: Any = two.place
    tap_all(runs, qtbot, simulate("practice", 1).truth[:3])
    runs.table.choose(folder / "run 2.h5")
    assert "were not saved: 6 to enter" in runs.window().message_bar.text
    runs.table.choose(folder / "run 1.h5")
    assert load(folder / "run 1.h5").truth is None


def test_the_slots_stay_where_they_are_while_they_are_tapped(two: Window, qtbot: Any) -> None:
    runs: Any = two.place
    heights = {runs.picker.map.height()}
    for colour in ("leaf", "leaf", "rust", "orange"):
        click(qtbot, runs.picker.colour_buttons[colour])
        qtbot.wait(20)
        heights.add(runs.picker.map.height())
    assert len(heights) == 1


def test_an_offer_to_undo_goes_when_it_was_taken_up_elsewhere(two: Window, qtbot: Any, folder: Path) -> None:
    runs: Any = two.place
    runs.remove_chosen()
    assert runs.window().message_bar.action == "Undo"
    press(qtbot, two, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert (folder / "run 1.h5").exists()
    assert runs.window().message_bar.text == "Restored run 1."
    assert not runs.window().message_bar.action


def test_nothing_is_taken_back_that_is_out_of_sight(two: Window, qtbot: Any, folder: Path, tmp_path: Path) -> None:
    """A key pressed in one folder changed a run in another without a word."""
    truth = simulate("practice", 1).truth
    workspace = two.workspace
    workspace.shelf.set_truth(folder / "run 1.h5", truth)
    (tmp_path / "hall").mkdir()
    workspace.use_folder(tmp_path / "hall")
    press(qtbot, two, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert load(folder / "run 1.h5").truth == truth


def test_what_is_taken_back_is_said(two: Window, qtbot: Any, folder: Path) -> None:
    two.workspace.shelf.set_truth(folder / "run 1.h5", simulate("practice", 1).truth)
    press(qtbot, two, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert two.message_bar.text == "Undone: colours, run 1."
    press(qtbot, two, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    assert two.message_bar.text == "Redone: colours, run 1."


@pytest.mark.usefixtures("long_rests")
def test_a_letter_is_a_colour_wherever_the_focus_is(window: Window, qtbot: Any) -> None:
    """R is the key that records, too: not while it is asked what stood there."""
    window.workspace.follow.start_built_in("practice", 7, speed_up=FAST)
    qtbot.waitUntil(lambda: window.workspace.follow.run is not None, timeout=30_000)
    record_one_drive(window, qtbot)
    record: Any = window.place
    qtbot.waitUntil(lambda: record.asked is not None, timeout=30_000)
    record.picker.clear()
    for away in (record.arm_button, record):
        away.setFocus()
        press(qtbot, window, Qt.Key.Key_R)
        press(qtbot, window, Qt.Key.Key_L)
    assert record.picker.colours[:4] == ["rust", "leaf", "rust", "leaf"]
    assert not window.workspace.follow.recording


@pytest.mark.usefixtures("long_rests")
def test_return_in_a_field_or_on_a_button_confirms_nothing(window: Window, qtbot: Any) -> None:
    window.workspace.follow.start_built_in("practice", 7, speed_up=FAST)
    qtbot.waitUntil(lambda: window.workspace.follow.run is not None, timeout=30_000)
    path = record_one_drive(window, qtbot)
    record: Any = window.place
    qtbot.waitUntil(lambda: record.asked is not None and not record.picker.problem(), timeout=30_000)
    field = record.findChildren(QLineEdit)[0]
    field.setFocus()
    press(qtbot, window, Qt.Key.Key_Return)
    assert load(path).truth is None
    record.picker.skip_button.setFocus()
    press(qtbot, window, Qt.Key.Key_Return)
    assert record.asked is None, "it was left for later"
    assert load(path).truth is None


def test_what_is_being_filled_in_survives_that_something_else_is_noted(two: Window, qtbot: Any, folder: Path) -> None:
    runs: Any = two.place
    for colour in ("leaf", "sky"):
        click(qtbot, runs.picker.colour_buttons[colour])
    runs.remarks_field.setFocus()
    runs.remarks_field.setText("lamp off")
    press(qtbot, two, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: any(entry.remarks == "lamp off" for entry in two.workspace.shelf.entries), timeout=30_000)
    assert runs.picker.colours[:2] == ["leaf", "sky"]
    assert not runs.window().message_bar.text


def test_the_picker_follows_the_course(two: Window) -> None:
    runs: Any = two.place
    two.workspace.selection.use_built_in_course("back")
    assert len(runs.picker.colours) == len(two.workspace.selection.course.slots) == 10
    two.workspace.selection.use_built_in_course("row")
    assert len(runs.picker.colours) == 9


def test_removing_the_run_that_is_filled_in_can_be_undone(two: Window, qtbot: Any, folder: Path) -> None:
    runs: Any = two.place
    tap_all(runs, qtbot, simulate("practice", 1).truth)
    runs.remove_chosen()
    qtbot.waitUntil(lambda: len(two.workspace.shelf.entries) == 1, timeout=30_000)
    assert runs.window().message_bar.action == "Undo"


def test_a_truth_that_could_not_be_written_stays_filled_in(
    two: Window, qtbot: Any, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    runs: Any = two.place
    truth = simulate("practice", 1).truth
    tap_all(runs, qtbot, truth)

    def no_room(*_given: object) -> None:
        raise StorageError("no room", where="there", todo="Make some")

    with monkeypatch.context() as patch:
        patch.setattr("telemetry.recording.relabel.relabel", no_room)
        runs.picker.confirm()
    assert "no room" in runs.window().message_bar.text
    two.workspace.shelf.refresh()
    qtbot.waitUntil(lambda: not two.workspace.shelf._jobs.busy, timeout=30_000)
    assert runs.picker.colours == list(truth)
    runs.picker.confirm()
    assert load(folder / "run 1.h5").truth == truth


def test_another_folder_takes_no_filled_in_truth_away(two: Window, qtbot: Any, folder: Path, tmp_path: Path) -> None:
    truth = simulate("practice", 1).truth
    tap_all(two.place, qtbot, truth)
    (tmp_path / "hall").mkdir()
    two.workspace.use_folder(tmp_path / "hall")
    assert "run 1 were not saved" in two.message_bar.text
    click(qtbot, two.message_bar.act_button)
    assert load(folder / "run 1.h5").truth == truth


def test_a_removal_that_cannot_be_undone_says_so(two: Window, folder: Path) -> None:
    runs: Any = two.place
    runs.remove_chosen()
    (folder / "run 1.h5").write_bytes(b"another")
    two.workspace.undo.undo()
    assert "is there already" in runs.window().message_bar.text


def test_undo_while_filling_in_is_about_what_is_filled_in(two: Window, qtbot: Any, folder: Path) -> None:
    runs: Any = two.place
    truth = simulate("practice", 1).truth
    tap_all(runs, qtbot, truth)
    press(qtbot, two, Qt.Key.Key_Return)
    assert load(folder / "run 1.h5").truth == truth
    runs.table.choose(folder / "run 2.h5")
    runs.picker.map.setFocus()
    press(qtbot, two, Qt.Key.Key_4)
    unused = next(letter for letter in "QXZJ" if letter not in {swatch.letter for swatch in runs.picker.book.swatches})
    press(qtbot, two, Qt.Key(ord(unused)))
    assert runs.picker.words.text().startswith(f"{unused} is no colour here. There are: ")
    press(qtbot, two, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert load(folder / "run 1.h5").truth == truth, "what was saved with another run stays"
    click(qtbot, runs.picker.colour_buttons[truth[0]])
    assert runs.picker.colours[0] == truth[0]
    press(qtbot, two, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert runs.picker.colours[0] is None
    assert load(folder / "run 1.h5").truth == truth
