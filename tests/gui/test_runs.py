"""Runs, driven by mouse and key on recorded runs of the built-in robot."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from by_hand import FAST, RUNS, click, press
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication
from recording.test_recording import write_journal

from gui.model.series import TIME
from gui.opening import open_paths
from gui.panels.verdict_table import cause_words
from gui.window import Window
from telemetry.palette_default import default_palette
from telemetry.palette_file import palette_text
from telemetry.reading.load import load_strategy, write_toml
from telemetry.recording.load import load
from telemetry.recording.make import make_recording
from telemetry.recording.meta import Meta
from telemetry.replay.baseline.file import Agreed, write_agreed
from telemetry.replay.case import Given
from telemetry.replay.judge import judge
from telemetry.replay.scoring.score import Outcome
from telemetry.replay.sources import chosen_strategies


def test_search_truth_tags_and_undo(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    press(qtbot, stocked, Qt.Key.Key_F, Qt.KeyboardModifier.ControlModifier)
    qtbot.keyClicks(runs.search, "venue")
    assert [entry.title for entry in runs.table.runs.entries] == ["venue 103"]
    runs.tags_field.setFocus()
    runs.tags_field.selectAll()
    qtbot.keyClicks(runs.tags_field, "gym, evening")
    press(qtbot, stocked, Qt.Key.Key_Return)
    path = stocked.workspace.folder.path / "venue 103.h5"
    qtbot.waitUntil(lambda: load(path).meta.tags == ("gym", "evening"), timeout=30_000)
    runs.table.setFocus()
    press(qtbot, stocked, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: load(path).meta.tags == ("venue",), timeout=30_000)


def test_a_removed_run_comes_back(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    shelf = stocked.workspace.shelf
    runs.table.choose(stocked.workspace.folder.path / "practice 1.h5")
    runs.table.setFocus()
    press(qtbot, stocked, Qt.Key.Key_Delete)
    qtbot.waitUntil(lambda: len(shelf.entries) == len(RUNS) - 1, timeout=30_000)
    assert not (stocked.workspace.folder.path / "practice 1.h5").exists()
    assert "removed" in runs.window().message_bar.text
    press(qtbot, stocked, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: len(shelf.entries) == len(RUNS), timeout=30_000)
    assert load(stocked.workspace.folder.path / "practice 1.h5").table.rows > 100


def test_an_opened_run_shows_what_the_replay_says(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    path = stocked.workspace.folder.path / "slipping 102.h5"
    runs.table.choose(path)
    runs.table.setFocus()
    press(qtbot, stocked, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: runs.view is not None and runs.view.verdict is not None, timeout=30_000)
    view = runs.view
    recording = load(path)
    results, _ = judge(Given().case(recording), chosen_strategies((), ()))
    for result in results:
        assert view.verdict.by_strategy[result.strategy].taken == result.taken
        word = {Outcome.RIGHT: "right", Outcome.WRONG: "wrong"}.get(result.outcome, "")  # type: ignore[arg-type]
        assert word in view.table.outcome_of(result.strategy)
    np.testing.assert_array_equal(view.stack.series.channel("refl"), recording.table.columns["refl"])
    wrong = next(result for result in results if result.outcome is Outcome.WRONG)
    view.look_at(wrong.strategy)
    assert view.why.text().startswith("\n".join(wrong.why))
    assert wrong.verdict is not None
    assert cause_words(wrong.verdict) in view.why.text(), "sensor or logic"
    view.stack.setFocus()
    press(qtbot, stocked, Qt.Key.Key_F3)
    row = view.stack.cursor_row
    assert row == view.run.row_of_failure(wrong.strategy)
    assert row >= 0
    read = next(one for one, colour in zip(wrong.taken.slots, recording.truth or (), strict=True) if one.colour != colour)
    if read.row == row:
        assert f" {read.dist_cm:.1f} cm" in view.swatches[0].place
    steps = view.stages.steps
    assert steps, "what every stage said at this sample"
    press(qtbot, stocked, Qt.Key.Key_Right)
    assert view.stack.cursor_row == row + 1
    codes = recording.table.columns["colour"]
    assert view.swatches[0].colour == recording.table.colours[int(codes[row + 1])]


def test_stepping_shows_no_reading_before_it_was_made_and_f_finds_who_failed(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    runs.open(stocked.workspace.folder.path / "venue 103.h5")
    view = runs.view
    qtbot.waitUntil(lambda: view.verdict is not None, timeout=30_000)
    right, wrong = (
        next(one for one in view.verdict.results if one.outcome is kind) for kind in (Outcome.RIGHT, Outcome.WRONG)
    )
    view.look_at(right.strategy)
    last = len(right.taken.slots)
    made = sorted(reading.row for reading in right.taken.slots if reading.row is not None)
    for row in (0, made[0] - 1, made[0], made[2], view.run.series.rows - 1):
        view.stack.set_cursor(row)
        shown = sum(state.colour is not None for state in view.map.states)
        assert shown == (last if row == view.run.series.rows - 1 else sum(one <= row for one in made))
    view.stack.setFocus()
    press(qtbot, stocked, Qt.Key.Key_F3)
    assert view.strategy == wrong.strategy
    assert f"{right.strategy} read this run right" in runs.window().message_bar.text
    assert view.stack.cursor_row == view.run.row_of_failure(wrong.strategy)


def test_another_folder_is_shown_unless_a_robot_is_connected(stocked: Window, qtbot: Any, tmp_path: Path) -> None:
    workspace, runs = stocked.workspace, stocked.place
    before, other = workspace.folder.path, tmp_path / "hall"
    other.mkdir()
    shutil.copy(before / "practice 1.h5", other)
    open_paths(workspace, [str(other)])
    qtbot.waitUntil(lambda: [Path(one.path) for one in workspace.shelf.entries] == [other / "practice 1.h5"], timeout=30_000)
    assert runs.filter.count.text() == "1 run"  # type: ignore[attr-defined]
    assert workspace.settings.text("folder") == str(other)
    workspace.follow.start_built_in("practice", 7, speed_up=FAST)
    qtbot.waitUntil(lambda: workspace.follow.connected, timeout=30_000)
    open_paths(workspace, [str(before)])
    assert workspace.folder.path == other
    assert runs.window().message_bar.action == f"Disconnect, and show {before.name}"  # type: ignore[attr-defined]
    assert "disconnect" in stocked.message_bar.text


def test_an_opened_toml_is_taken_for_what_it_is(stocked: Window, tmp_path: Path) -> None:
    workspace = stocked.workspace
    course = workspace.selection.course
    files = {name: tmp_path / f"{name}.toml" for name in ("palette", "ours", "agreed")}
    files["palette"].write_text(palette_text(replace(default_palette({}), name="hall")), encoding="utf-8")
    files["ours"].write_text(write_toml(load_strategy("hold:hold.samples=2")), encoding="utf-8")
    files["agreed"].write_text(write_agreed(Agreed({"hold": ("code",)}, (), "", "", {}, {})), encoding="utf-8")
    open_paths(workspace, [str(files["palette"])])
    assert workspace.selection.palette is not None
    assert workspace.selection.palette.name == "hall"
    open_paths(workspace, [str(files["ours"])])
    assert workspace.selection.own_strategies == [str(files["ours"].resolve())]
    decide: Any = stocked.place
    assert "ours" in decide.matrix.columns
    open_paths(workspace, [str(files["agreed"])])
    assert "file of agreed readings" in stocked.message_bar.text
    assert workspace.selection.course is course


def test_a_run_without_a_sample_opens(stocked: Window, qtbot: Any) -> None:
    meta = Meta(course=stocked.workspace.selection.course.text)
    journal = write_journal(
        stocked.workspace.folder.path / "nothing.h5", [b"hello\n"], meta
    )  # a capture in which nothing came
    runs: Any = stocked.place
    runs.open(make_recording(journal)[0])
    runs.view.stack.setFocus()
    for key in (Qt.Key.Key_Space, Qt.Key.Key_F3, Qt.Key.Key_Right, Qt.Key.Key_Home, Qt.Key.Key_End):
        press(qtbot, stocked, key)
    runs.view.player.speed.activated.emit(0)
    assert runs.view.stack.grab().width() > 0
    assert not runs.view.player.button.isEnabled()


def test_a_truth_that_does_not_fit_the_course_is_asked_anew(stocked: Window) -> None:
    runs: Any = stocked.place
    runs.picker.start(("rust", "leaf"))
    assert runs.picker.colours == [None] * len(stocked.workspace.selection.course.slots)
    assert "do not fit" in runs.picker.words.text()


def test_playing_moves_the_cursor_at_the_chosen_speed(
    stocked: Window, qtbot: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By a clock of its own: on a busy machine the run was over, and played anew, before the second key."""
    clock_s = [100.0]
    monkeypatch.setattr("gui.panels.player.time", SimpleNamespace(monotonic=lambda: clock_s[0]))
    runs: Any = stocked.place
    runs.open(stocked.workspace.folder.path / "practice 1.h5")
    view = runs.view
    view.player.speed.setCurrentIndex(view.player.speed.findData(10.0))
    view.stack.setFocus()
    press(qtbot, stocked, Qt.Key.Key_Space)
    clock_s[0] += 0.3
    time_s = view.stack.series.time_s
    wanted = view.stack.series.row_at(TIME, float(time_s[0]) + 3.0)
    qtbot.waitUntil(lambda: view.stack.cursor_row == wanted, timeout=30_000)
    press(qtbot, stocked, Qt.Key.Key_Space)
    assert not view.player.playing
    clock_s[0] += 1.0
    qtbot.wait(60)
    assert view.stack.cursor_row == wanted
    press(qtbot, stocked, Qt.Key.Key_Escape)
    assert runs.view is not None, "the sample is let go of first"
    press(qtbot, stocked, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: runs.view is None, timeout=30_000)


def test_zoom_and_pan_with_the_mouse(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    runs.open(stocked.workspace.folder.path / "practice 1.h5")
    stack = runs.view.stack
    stack.repaint()
    whole = stack.view.span
    press(qtbot, stocked, Qt.Key.Key_Plus)
    assert stack.view.span < whole
    end = stack.view.end
    middle = stack.rect().center()
    qtbot.mousePress(stack, Qt.MouseButton.LeftButton, pos=middle)
    moved = QMouseEvent(QMouseEvent.Type.MouseMove, QPointF(middle + QPoint(30, 0)), stack.mapToGlobal(QPointF(middle)),
                        Qt.MouseButton.NoButton, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier)  # fmt: skip
    QApplication.sendEvent(stack, moved)
    qtbot.mouseRelease(stack, Qt.MouseButton.LeftButton, pos=middle)
    assert stack.view.end < end


def test_two_runs_move_together_by_distance(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    runs.table.choose(*(Path(entry.path) for entry in runs.table.runs.entries[:2]))
    click(qtbot, runs.pair_button)
    first, second = runs.view.stacks
    first.show_around(200, 20.0)
    assert (second.view.span, second.view.end) == (first.view.span, first.view.end)
    way = float(first.series.way_cm[first.cursor_row])
    assert abs(float(second.series.way_cm[second.cursor_row]) - way) < 1.0


def test_two_runs_stand_on_equal_scales(stocked: Window, qtbot: Any) -> None:
    """A dark hall beside a bright room: the same height means the same value, and all of both is seen."""
    runs: Any = stocked.place
    runs.table.choose(stocked.workspace.folder.path / "practice 1.h5", stocked.workspace.folder.path / "venue 103.h5")
    click(qtbot, runs.pair_button)
    first, second = runs.view.stacks
    assert [strip.spec.bounds for strip in first.strips] == [strip.spec.bounds for strip in second.strips]
    for strip in first.strips:
        assert strip.spec.bounds is not None
        low, high = strip.spec.bounds
        for run in runs.view.runs:
            for trace in strip.spec.traces:
                values = np.asarray(run.series.channel(trace.channel))
                assert low <= np.nanmin(values)
                assert np.nanmax(values) <= high
