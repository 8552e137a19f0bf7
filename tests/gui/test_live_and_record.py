"""Live and Record, driven by mouse and key with the built-in robot on its pseudo-terminal, against what was recorded."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from by_hand import FAST, click, press, record_one_drive
from PySide6.QtCore import QPoint, Qt

from gui.model.series import TIME, WAY
from gui.places.record import RecordPlace
from gui.window import Window
from telemetry.recording.cut import write_cut
from telemetry.recording.load import load
from telemetry.replay.header import palette_for, plan_for
from telemetry.replay.runner import Runner
from telemetry.sources.synthetic.run import simulate


@pytest.mark.usefixtures("long_rests")
def test_a_newcomer_sees_live_colours_records_a_run_and_reads_its_verdict(window: Window, qtbot: Any) -> None:
    start: Any = window.places["start"]
    start.level.setCurrentIndex(0)
    follow = window.workspace.follow
    begin = follow.start_built_in
    follow.start_built_in = lambda level: begin(level, 7, speed_up=FAST)  # type: ignore[method-assign,assignment]
    click(qtbot, start.drive_button)
    assert window.place.name == "live"
    live: Any = window.place
    qtbot.waitUntil(lambda: live.swatches[0].colour not in (None, "none"), timeout=30_000)
    assert live.swatches[0].colour in window.workspace.selection.course.colours
    qtbot.waitUntil(lambda: live.motion.text().startswith("● Driving"), timeout=30_000)
    qtbot.waitUntil(lambda: live.motion.text().startswith("■ Run over, "), timeout=30_000)
    path = record_one_drive(window, qtbot)

    qtbot.waitUntil(lambda: window.place.name == "record", timeout=30_000)
    record: Any = window.place
    qtbot.waitUntil(lambda: record.asked == path, timeout=30_000)
    said = tuple(record.picker.colours)
    assert not record.picker.problem(), "the built-in robot has said what stood there"
    record.picker.map.setFocus()
    press(qtbot, window, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: record.verdict_card.verdict is not None, timeout=30_000)

    recording = load(path)
    assert recording.meta.simulated
    assert recording.truth == said
    assert recording.table.lost == 0
    shown = record.verdict_card.verdict
    assert "✓" in record.verdict_card.band.sign.text()
    assert shown.by_strategy[record.verdict_card.shown].taken.slots == record.verdict_card.readings.taken.slots
    colours = tuple(reading.colour for reading in shown.by_strategy[record.verdict_card.shown].taken.slots)
    assert colours == said, "at the practice level"

    record.verdict_card.look_at("first-come")
    record.verdict_card.open_wanted.emit(record.verdict_card.shown)
    qtbot.waitUntil(lambda: window.place.name == "runs", timeout=30_000)
    runs: Any = window.place
    assert (runs.view.run.path, runs.view.strategy) == (path, "first-come")


@pytest.mark.usefixtures("long_rests")
def test_a_run_ended_too_late_is_cut_into_its_drives(
    driving: Window, qtbot: Any, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    follow = driving.workspace.follow
    driving.show_place("record")
    record = driving.place
    assert isinstance(record, RecordPlace)
    for moving in (False, True):
        qtbot.waitUntil(lambda moving=moving: follow.run.moving == moving, timeout=30_000)
    press(qtbot, driving, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
    for moving in (False, True, False):
        qtbot.waitUntil(lambda moving=moving: follow.run.moving == moving, timeout=30_000)
    press(qtbot, driving, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: record.asked is not None, timeout=30_000)
    whole = record.asked
    assert whole is not None
    assert record.picker.problem(), "nothing is filled in for two drives"
    # Half way the user changes their mind; then not.
    begun, go_on = threading.Event(), threading.Event()

    def slow_cut(*given: Any, **more: Any) -> None:
        write_cut(*given, **more)
        begun.set()
        go_on.wait(10)

    monkeypatch.setattr("telemetry.recording.drives.write_cut", slow_cut)
    click(qtbot, record.cutting_box.cut_button)
    qtbot.waitUntil(begun.is_set, timeout=30_000)
    qtbot.waitUntil(lambda: "run 1 of 2" in record.cutting_box.words.text(), timeout=30_000)
    assert not record.picker.isEnabled()
    click(qtbot, record.cutting_box.whole_button)
    go_on.set()
    qtbot.waitUntil(lambda: record.cutting.path is None, timeout=30_000)
    assert list(folder.glob("*.h5")) == [whole]
    assert record.picker.isEnabled()
    click(qtbot, record.cutting_box.cut_button)
    qtbot.waitUntil(lambda: record.asked != whole, timeout=30_000)
    drives = list(record.session.waiting)
    assert [path.stem for path in drives] == [f"{whole.stem} run {number}" for number in (1, 2)]
    assert not whole.exists()
    assert record.asked == drives[0]
    for path in drives:
        assert record.asked == path
        assert not record.cutting_box.isVisible()
        assert not record.picker.problem(), "the built-in robot has said what stood there"
        press(qtbot, driving, Qt.Key.Key_Return)
        assert record.verdict_card.verdict is None, "that of the run before is gone while this one is read"
        qtbot.waitUntil(
            lambda path=path: record.verdict_card.verdict is not None and record.verdict_card.verdict.path == path,
            timeout=30_000,
        )
        assert len(record.verdict_card.verdict.right) > 1  # type: ignore[union-attr]
        record._ready()
    undo = driving.workspace.undo
    while undo.canUndo():
        undo.undo()
    assert whole.exists()
    assert not any(path.exists() for path in drives)


def test_live_shows_what_the_recording_holds(driving: Window, qtbot: Any) -> None:
    driving.show_place("live")
    live: Any = driving.places["live"]
    path = record_one_drive(driving, qtbot)
    recording = load(path)
    run = driving.workspace.follow.run
    assert run is not None
    last_us = int(recording.table.columns["arrival_us"][-1])
    qtbot.waitUntil(lambda: int(run.table.columns["arrival_us"][-1]) > last_us, timeout=30_000)
    arrival = np.asarray(run.table.columns["arrival_us"])
    first = int(np.searchsorted(arrival, recording.table.columns["arrival_us"][0]))
    rows = slice(first, first + recording.table.rows)
    for channel in ("refl", "red", "dist", "heading"):
        np.testing.assert_array_equal(run.series.channel(channel)[rows], recording.table.columns[channel])  # type: ignore[index]
    assert live.stack.series is run.series
    assert {spec.title for spec in (strip.spec for strip in live.stack.strips)} >= {
        "Reflectance",
        "Raw",
        "Heading",
        "Odometer",
        "Speed",
    }
    assert [lane.title for lane in live.stack.lanes] == ["sensor", "palette"]


def test_live_misses_what_never_came_and_not_what_may_still_come(driving: Window, qtbot: Any) -> None:
    run = driving.workspace.follow.run
    assert run is not None
    rows = run.table.rows
    driving.workspace.selection.use_strategy("stand-and-look")
    qtbot.waitUntil(lambda: run.table.rows > rows + 50, timeout=30_000)
    assert not run.reading_error, "a stop may still come"
    runner = run._runner
    assert runner is not None
    assert "needs" in runner.lacks(run.table)


def test_readings_made_live_are_those_of_the_replay(driving: Window, qtbot: Any) -> None:
    follow = driving.workspace.follow
    run = follow.run
    assert run is not None
    qtbot.waitUntil(lambda: not run.moving, timeout=30_000)
    qtbot.waitUntil(lambda: run.moving, timeout=30_000)
    qtbot.waitUntil(lambda: sum(one.colour is not None for one in run.taken.slots) >= 5, timeout=30_000)
    from_row, live = run.from_row, list(run.readings)
    table = run.table
    from telemetry.live.tail import tail

    part = tail(table, from_row)
    course = driving.workspace.selection.course
    replay = Runner(plan_for(driving.workspace.selection.live_strategy(), course, palette_for(part, course, None), part))
    replay.advance(part)
    again = [(from_row + (one.row or 0), one) for one in replay.readings]
    assert again[: len(live)] == live


def test_freeze_scroll_back_and_follow_again_by_key_and_mouse(driving: Window, qtbot: Any) -> None:
    driving.show_place("live")
    live: Any = driving.places["live"]
    qtbot.waitUntil(lambda: live.stack.series.rows > 400 and len(live.stack.paint_s) > 0, timeout=30_000)
    live.stack.setFocus()
    press(qtbot, driving, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: not live.stack.view.live, timeout=30_000)
    rows, end = live.stack.series.rows, live.stack.view.end
    qtbot.waitUntil(lambda: live.stack.series.rows > rows + 100, timeout=30_000)
    assert live.stack.view.end == end, "frozen while samples go on arriving"
    press(qtbot, driving, Qt.Key.Key_Left)
    cursor = live.stack.cursor_row
    assert cursor >= 0
    press(qtbot, driving, Qt.Key.Key_Left, Qt.KeyboardModifier.ShiftModifier)
    assert live.stack.cursor_row == cursor - 20
    press(qtbot, driving, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: live.stack.view.live, timeout=30_000)
    span = live.stack.view.span
    press(qtbot, driving, Qt.Key.Key_Plus)
    assert live.stack.view.live, "closer, and it goes on"
    assert live.stack.view.span < span
    span = live.stack.view.span
    for _ in range(2):  # chosen once, it stays so after a look back
        press(qtbot, driving, Qt.Key.Key_Space)
    assert live.stack.view.live
    assert live.stack.view.span == span
    middle = live.stack.rect().center()
    qtbot.mousePress(live.stack, Qt.MouseButton.LeftButton, pos=middle)
    qtbot.mouseMove(live.stack, middle + QPoint(40, 0))
    qtbot.mouseRelease(live.stack, Qt.MouseButton.LeftButton, pos=middle + QPoint(40, 0))


def test_over_distance_by_key(driving: Window, qtbot: Any) -> None:
    driving.show_place("live")
    live: Any = driving.places["live"]
    qtbot.waitUntil(lambda: live.stack.series.rows > 300, timeout=30_000)
    assert live.stack.view.axis == TIME
    live.stack.setFocus()
    press(qtbot, driving, Qt.Key.Key_T, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: live.stack.view.axis == WAY, timeout=30_000)
    assert live.axis_button.isChecked()


def test_a_marked_moment_is_kept_with_the_run(driving: Window, qtbot: Any) -> None:
    follow = driving.workspace.follow
    driving.show_place("live")
    qtbot.waitUntil(lambda: follow.run.moving, timeout=30_000)
    press(qtbot, driving, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: follow.recording, timeout=30_000)
    rows = follow.run.table.rows
    qtbot.waitUntil(lambda: follow.run.table.rows > rows + 60, timeout=30_000)
    press(qtbot, driving, Qt.Key.Key_M, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: len(follow.watch.marks) == 1, timeout=30_000)
    rows = follow.run.table.rows
    qtbot.waitUntil(lambda: follow.run.table.rows > rows + 60, timeout=30_000)
    path = follow.stop_recording()
    assert path is not None
    recording = load(path)
    assert [mark.text for mark in recording.marks] == ["mark 1"]
    assert 0 < recording.marks[0].row < recording.table.rows


def test_the_truth_by_letters_and_by_tapping(window: Window, qtbot: Any) -> None:
    window.show_place("record")
    record: Any = window.place
    record.pages.setCurrentIndex(1)
    picker = record.picker
    picker.start(None)
    wanted = ("rust", "leaf", "sky", "pink", "orange", "rust", "leaf", "sky", "white")
    letters = {swatch.name: swatch.letter for swatch in window.workspace.selection.book.swatches}
    picker.map.setFocus()
    for colour in wanted[:4]:
        qtbot.keyClicks(picker.map, letters[colour].lower())
    qtbot.waitUntil(lambda: len(picker.map._areas) == 9, timeout=30_000)
    for slot in range(4, 9):
        click(qtbot, picker.map, picker.map.area_of(slot).center().toPoint())
        click(qtbot, picker.colour_buttons[wanted[slot]])
    assert tuple(picker.colours) == wanted
    assert not picker.problem()
    picker.put(7, "leaf")
    assert "leaf" in picker.problem(), "two of a colour that stands there once"
    assert not picker.confirm_button.isEnabled()


def test_a_session_cuts_runs_by_itself(driving: Window, qtbot: Any) -> None:
    driving.show_place("record")
    record: Any = driving.place
    record.sound_box.setChecked(True)
    press(qtbot, driving, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    qtbot.waitUntil(lambda: record.session.armed, timeout=30_000)
    qtbot.waitUntil(lambda: record.session.count >= 2, timeout=60_000)
    click(qtbot, record.arm_button)
    assert not record.session.armed
    assert "kept" in record.session.voice.said
    assert any(words.startswith("tag 1: ") for words in record.session.voice.said)
    paths = list(record.session.waiting)
    assert len(paths) >= 2
    for path in paths[:2]:
        recording = load(path)
        assert recording.table.rows > 300
        assert recording.table.lost == 0
    assert record.asked is not None, "the truth is asked for afterwards"


def test_two_sensors_have_a_swatch_and_a_lane_each(window: Window, qtbot: Any) -> None:
    window.workspace.selection.use_built_in_course("two")
    follow = window.workspace.follow
    follow.start_built_in("practice", 5, speed_up=FAST)
    window.show_place("live")
    live: Any = window.place
    qtbot.waitUntil(lambda: len(live.stack.lanes) == 4, timeout=30_000)
    sensors = [sensor.name for sensor in window.workspace.selection.course.sensors]
    assert len(sensors) == 2
    assert [lane.title for lane in live.stack.lanes] == [
        f"{kind} {name}" for name in sensors for kind in ("sensor", "palette")
    ]
    qtbot.waitUntil(lambda: [swatch.sensor for swatch in live.swatches] == sensors, timeout=30_000)
    path = record_one_drive(window, qtbot)
    window.show_place("runs", path)
    runs: Any = window.place
    assert [swatch.sensor for swatch in runs.view.swatches] == sensors


def test_a_fetched_stream_is_taken_in_and_asked_about(window: Window, qtbot: Any, tmp_path: Path) -> None:
    run = simulate("practice", 11)
    text = tmp_path / "kept on the robot.txt"
    text.write_bytes(run.data)
    window.show_place("record")
    record: Any = window.place
    record.take_in(text)
    qtbot.waitUntil(lambda: record.asked is not None, timeout=30_000)
    path = record.asked
    assert path is not None
    assert load(path).table.rows > 300
    for slot, colour in enumerate(run.truth):
        record.picker.put(slot, colour)
    click(qtbot, record.picker.confirm_button)
    qtbot.waitUntil(lambda: record.verdict_card.verdict is not None, timeout=30_000)
    assert load(path).truth == run.truth
    assert record.verdict_card.verdict.recording.truth == run.truth
