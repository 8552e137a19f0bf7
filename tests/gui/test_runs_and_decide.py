"""Runs, Decide and Colours, driven by mouse and key on recorded runs of the built-in robot."""

from __future__ import annotations

import re
import shutil
import threading
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from by_hand import FAST, click, press
from PySide6.QtCore import QItemSelectionModel, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent, QWheelEvent
from PySide6.QtWidgets import QApplication, QSlider, QWidget

from gui.ingesting import ingest
from gui.matrix import VARIANT
from gui.opening import open_paths
from gui.window import Window
from telemetry.recording.load import load
from telemetry.recording.meta import Meta
from telemetry.replay.judge import judge
from telemetry.replay.results import ROBOT, ranked
from telemetry.replay.score import Outcome
from telemetry.replay.sources import chosen_strategies
from telemetry.sources.synthetic.run import simulate

RUNS = (("practice", 1), ("practice", 2), ("venue", 103), ("slipping", 102))


@pytest.fixture(scope="module")
def ready(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A few runs, made once."""
    place = tmp_path_factory.mktemp("ready")
    for level, seed in RUNS:
        run = simulate(level, seed)
        text = place / f"{level} {seed}.txt"
        text.write_bytes(run.data)
        ingest(text, place, Meta(course=run.course.text, truth=run.truth, tags=(level,), simulated=True))
    return place


@pytest.fixture
def stocked(ready: Path, folder: Path, request: pytest.FixtureRequest, qtbot: Any) -> Window:
    """The window on a folder with these runs."""
    import shutil

    shutil.copytree(ready, folder, ignore=shutil.ignore_patterns("*.txt"))
    window: Window = request.getfixturevalue("window")
    qtbot.waitUntil(lambda: len(window.workspace.shelf.entries) == len(RUNS), timeout=20_000)
    window.show_place("runs")
    return window


def test_search_truth_tags_and_undo(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    press(qtbot, stocked, Qt.Key.Key_F, Qt.KeyboardModifier.ControlModifier)
    qtbot.keyClicks(runs.search, "venue")
    assert [entry.title for entry in runs.table.runs.entries] == ["venue 103"]
    runs.tags_field.setFocus()
    runs.tags_field.selectAll()
    qtbot.keyClicks(runs.tags_field, "gym, evening")
    press(qtbot, stocked, Qt.Key.Key_Return)
    path = stocked.workspace.folder / "venue 103.h5"
    qtbot.waitUntil(lambda: load(path).meta.tags == ("gym", "evening"), timeout=5_000)
    runs.table.setFocus()
    press(qtbot, stocked, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: load(path).meta.tags == ("venue",), timeout=5_000)


def test_a_removed_run_comes_back(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    shelf = stocked.workspace.shelf
    runs.table.choose(stocked.workspace.folder / "practice 1.h5")
    runs.table.setFocus()
    press(qtbot, stocked, Qt.Key.Key_Delete)
    qtbot.waitUntil(lambda: len(shelf.entries) == len(RUNS) - 1, timeout=10_000)
    assert not (stocked.workspace.folder / "practice 1.h5").exists()
    assert "removed" in runs.notice.text
    press(qtbot, stocked, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: len(shelf.entries) == len(RUNS), timeout=10_000)
    assert load(stocked.workspace.folder / "practice 1.h5").table.rows > 100


def test_an_opened_run_shows_what_the_replay_says(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    path = stocked.workspace.folder / "slipping 102.h5"
    runs.table.choose(path)
    runs.table.setFocus()
    press(qtbot, stocked, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: runs.view is not None and runs.view.verdict is not None, timeout=30_000)
    view = runs.view
    recording = load(path)
    results, _ = judge(path.as_posix(), recording.table, recording.course, recording.truth, chosen_strategies((), ()))
    for result in results:
        assert view.verdict.by_strategy[result.strategy].taken == result.taken
        word = {Outcome.RIGHT: "right", Outcome.WRONG: "wrong"}.get(result.outcome, "")  # type: ignore[arg-type]
        assert word in view.table.outcome_of(result.strategy)
    np.testing.assert_array_equal(view.stack.series.channel("refl"), recording.table.columns["refl"])
    wrong = next(result for result in results if result.outcome is Outcome.WRONG)
    view.look_at(wrong.strategy)
    assert view.why.text().startswith("\n".join(wrong.why))
    assert wrong.verdict is not None
    assert wrong.verdict.kind.value.rstrip("?") in view.why.text(), "sensor or logic"
    view.stack.setFocus()
    press(qtbot, stocked, Qt.Key.Key_F)
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


def test_another_folder_is_shown_unless_a_robot_is_connected(stocked: Window, qtbot: Any, tmp_path: Path) -> None:
    workspace, runs = stocked.workspace, stocked.place
    before, other = workspace.folder, tmp_path / "hall"
    other.mkdir()
    shutil.copy(before / "practice 1.h5", other)
    open_paths(workspace, [str(other)])
    qtbot.waitUntil(lambda: [Path(one.path) for one in workspace.shelf.entries] == [other / "practice 1.h5"], timeout=10_000)
    assert runs.count.text() == "1 run in hall"  # type: ignore[attr-defined]
    assert workspace.settings.text("folder") == str(other)
    workspace.follow.start_built_in("practice", 7, speed_up=FAST)
    qtbot.waitUntil(lambda: workspace.follow.connected, timeout=20_000)
    open_paths(workspace, [str(before)])
    assert workspace.folder == other
    assert "disconnect" in stocked.place.notice.text


def test_a_run_without_a_sample_opens(stocked: Window, qtbot: Any) -> None:
    text = stocked.workspace.folder / "nothing.txt"
    text.write_bytes(b"hello\n")
    runs: Any = stocked.place
    runs.open(ingest(text, stocked.workspace.folder, Meta(course=stocked.workspace.course.text)))
    runs.view.stack.setFocus()
    for key in (Qt.Key.Key_P, Qt.Key.Key_F, Qt.Key.Key_W, Qt.Key.Key_T, Qt.Key.Key_Right, Qt.Key.Key_Home, Qt.Key.Key_End):
        press(qtbot, stocked, key)
    runs.view.speed.activated.emit(0)
    assert runs.view.stack.grab().width() > 0
    assert not runs.view.play_button.isEnabled()


def test_a_truth_that_does_not_fit_the_course_is_asked_anew(stocked: Window) -> None:
    runs: Any = stocked.place
    runs.picker.start(("rust", "leaf"))
    assert runs.picker.colours == [None] * len(stocked.workspace.course.slots)
    assert "does not fit" in runs.picker.words.text()


def test_playing_moves_the_cursor_at_the_chosen_speed(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    runs.open(stocked.workspace.folder / "practice 1.h5")
    view = runs.view
    view.speed.setCurrentIndex(view.speed.findData(10.0))
    view.stack.setFocus()
    press(qtbot, stocked, Qt.Key.Key_P)
    qtbot.waitUntil(lambda: view.stack.cursor_row > 100, timeout=10_000)
    press(qtbot, stocked, Qt.Key.Key_P)
    stopped = view.stack.cursor_row
    qtbot.wait(60)
    assert view.stack.cursor_row == stopped
    press(qtbot, stocked, Qt.Key.Key_Backspace)
    qtbot.waitUntil(lambda: runs.view is None, timeout=5_000)


def test_zoom_and_pan_with_the_mouse(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    runs.open(stocked.workspace.folder / "practice 1.h5")
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
    runs.table.clearSelection()
    flags = QItemSelectionModel.SelectionFlag.Select | QItemSelectionModel.SelectionFlag.Rows
    for row in (0, 1):
        runs.table.selectionModel().select(runs.table.runs.index(row, 0), flags)
    click(qtbot, runs.pair_button)
    first, second = runs.view.stacks
    first.show_around(200, 20.0)
    assert (second.view.span, second.view.end) == (first.view.span, first.view.end)
    way = float(first.series.way_cm[first.cursor_row])
    assert abs(float(second.series.way_cm[second.cursor_row]) - way) < 1.0


def names_the_best(decide: Any) -> None:
    """No strategy is called best that is one of several."""
    matrix, words = decide.matrix, decide.summary.text()
    summaries = ranked([matrix.summary(column) for column in matrix.columns if column != ROBOT])
    top = summaries[0]
    equal = [one for one in summaries if (one.correct, one.runs, one.errors) == (top.correct, top.runs, top.errors)]
    best = [one.strategy for one in equal]
    named = [column for column in best if column in words.replace(",", " ").split()]
    counted = re.search(r"and (\d+) more", words)
    assert len(named) + (int(counted[1]) if counted else 0) == len(best)


def test_the_matrix_says_what_the_comparison_says_and_opens_the_failure(stocked: Window, qtbot: Any) -> None:
    stocked.show_place("decide")
    decide: Any = stocked.place
    matrix = decide.matrix
    qtbot.waitUntil(lambda: len(matrix.paths) == len(RUNS) and not matrix.busy, timeout=60_000)
    for path in matrix.paths:
        recording = load(path)
        results, robot = judge(
            path.as_posix(), recording.table, recording.course, recording.truth, chosen_strategies((), ())
        )
        for result in results:
            shown = matrix.result(path, result.strategy)
            assert shown is not None
            assert (shown.outcome, shown.taken) == (result.outcome, result.taken)
        assert robot is not None
        assert matrix.result(path, robot.strategy).taken == robot.taken
    names_the_best(decide)
    path, column = next(
        key for key, one in matrix.results.items() if one.outcome is Outcome.WRONG and key[1] in matrix.columns[:4]
    )
    decide.view.choose(path, column)
    assert column in decide.cell_words.text()
    assert decide.cell_why.text()
    qtbot.waitUntil(lambda: path in matrix.causes, timeout=60_000)
    assert matrix.causes[path].kind.value.rstrip("?") in decide.cell_why.text()
    words, why = decide.cell_words.text(), decide.cell_why.text()
    click(qtbot, decide.again_button)
    assert words != decide.cell_words.text(), "it is being worked out"
    qtbot.waitUntil(lambda: (decide.cell_words.text(), decide.cell_why.text()) == (words, why), timeout=60_000)
    decide.view.setFocus()
    press(qtbot, stocked, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: stocked.place.name == "runs", timeout=5_000)
    view = stocked.places["runs"].view  # type: ignore[attr-defined]
    assert view.run.path == path
    assert view.strategy == column
    assert view.stack.cursor_row >= 0


def test_who_is_equal_is_named_or_counted(stocked: Window, qtbot: Any) -> None:
    easy = sorted(stocked.workspace.folder.glob("practice*.h5"))
    stocked.workspace.go("decide", easy)
    decide: Any = stocked.place
    qtbot.waitUntil(lambda: len(decide.matrix.paths) == len(easy) and not decide.matrix.busy, timeout=60_000)
    names_the_best(decide)
    assert "more, 2 of 2 right" in decide.summary.text()


def wheel_on(widget: QWidget) -> QWheelEvent:
    here, turned = QPointF(5, 5), QPoint(0, -120)
    return QWheelEvent(
        here, widget.mapToGlobal(here), turned, turned,
        Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip


def test_changing_a_setting_moves_the_matrix_at_once(stocked: Window, qtbot: Any) -> None:
    stocked.show_place("decide")
    decide: Any = stocked.place
    matrix = decide.matrix
    qtbot.waitUntil(lambda: len(matrix.paths) == len(RUNS) and not matrix.busy, timeout=60_000)
    looked_at = (matrix.paths[1], matrix.columns[2])
    decide.view.choose(*looked_at)
    decide.settings.choice.setCurrentIndex(decide.settings.choice.findData("hold"))
    decide.settings._build()
    key, box = next((key, field) for key, field in decide.settings.fields.items() if key.startswith("hold."))
    box.setValue(60)  # more than any marker shows
    qtbot.waitUntil(lambda: VARIANT in matrix.columns, timeout=5_000)
    assert matrix.columns[matrix.columns.index(VARIANT) - 1] == "hold"
    assert decide.view.chosen() == looked_at
    spec = f"hold:{key}={box.value()}"
    assert matrix.variant_spec == spec
    qtbot.waitUntil(lambda: all((path, VARIANT) in matrix.results for path in matrix.paths), timeout=30_000)
    recording = load(matrix.paths[0])
    results, _ = judge("x", recording.table, recording.course, recording.truth, chosen_strategies((spec,), ()))
    assert matrix.result(matrix.paths[0], VARIANT).taken == results[0].taken
    won, lost = matrix.change()
    for path in matrix.paths:
        was, is_now = (matrix.result(path, column).outcome is Outcome.RIGHT for column in ("hold", VARIANT))
        assert (path in won, path in lost) == (is_now and not was, was and not is_now)
    assert lost
    assert not won
    qtbot.waitUntil(lambda: "As changed, hold reads" in decide.summary.text(), timeout=30_000)
    for word, paths in (("Won", won), ("Lost", lost)):
        assert (f"{word}: {paths[0].stem}" if paths else "") in decide.summary.text()
    # Whoever scrolls past a number, a slider or a list changes nothing.
    for target in (box, decide.settings.choice, *decide.settings.findChildren(QSlider)):
        before = decide.settings.spec()
        target.setFocus()
        QApplication.sendEvent(target, wheel_on(target))
        assert decide.settings.spec() == before
    click(qtbot, decide.settings.back_button)
    qtbot.waitUntil(lambda: VARIANT not in matrix.columns, timeout=5_000)


def test_the_guard_names_what_has_changed(stocked: Window, qtbot: Any) -> None:
    stocked.show_place("decide")
    decide: Any = stocked.place
    qtbot.waitUntil(lambda: len(decide.matrix.paths) == len(RUNS) and not decide.matrix.busy, timeout=60_000)
    guard = decide.guard
    click(qtbot, guard.keep_button)
    qtbot.waitUntil(lambda: guard.file.exists() and guard.check_button.isEnabled(), timeout=60_000)
    text = guard.file.read_text(encoding="utf-8")
    assert 'readings."tag 1"' in text
    line = re.search(r'readings\."tag 1" = "(\w+)"', text)
    assert line is not None
    other = "sky" if line[1] != "sky" else "rust"
    guard.file.write_text(text.replace(line[0], f'readings."tag 1" = "{other}"', 1), encoding="utf-8")
    assert "are kept in" in decide.notice.text
    guard.file.write_text(text, encoding="utf-8")
    press(qtbot, stocked, Qt.Key.Key_G)
    qtbot.waitUntil(lambda: "are as kept" in decide.notice.text and not guard._jobs.busy, timeout=60_000)
    assert "are as kept" in guard.words.text(), "the answer stays"
    guard.file.write_text(text.replace(line[0], f'readings."tag 1" = "{other}"', 1), encoding="utf-8")
    stocked.resize(1100, 640)
    press(qtbot, stocked, Qt.Key.Key_G)
    qtbot.waitUntil(lambda: guard.list.count() >= 1, timeout=60_000)
    assert "differ from what was kept" in decide.notice.text
    seen = decide.side.viewport().rect()
    assert seen.contains(guard.words.mapTo(decide.side.viewport(), QPoint(0, 0))), "it is not below the fold"
    assert other in guard.list.item(0).text()
    assert "tag 1" in guard.list.item(0).text()


def test_colours_are_learnt_step_by_step_and_re_checked(
    driving: Window, qtbot: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("gui.calibration.TAKE_S", 0.6)
    driving.show_place("colours")
    colours: Any = driving.place
    calibration = colours.calibration
    steps = len(calibration.steps)
    assert calibration.steps[0].colour == "none"
    for number in range(steps):
        driving.setFocus()
        press(qtbot, driving, Qt.Key.Key_Space)
        qtbot.waitUntil(lambda: calibration.taking, timeout=5_000)
        qtbot.waitUntil(lambda: not calibration.taking, timeout=10_000)
        assert len(calibration.captures) == number + 1
    assert calibration.step is None
    assert colours.risk.rowCount() >= 5
    words = colours.plane.accessibleDescription()
    for colour in driving.workspace.course.colours:
        assert colour in words
    target = driving.workspace.folder / "mine.toml"
    colours.keep_as(target)
    assert target.exists()
    assert driving.workspace.palette is not None
    assert driving.workspace.palette.measured
    assert colours.palette_name.text() == "mine"
    assert not colours.keep_button.isEnabled()
    click(qtbot, colours.check_button)
    while calibration.step is not None:
        press(qtbot, driving, Qt.Key.Key_Space)
        qtbot.waitUntil(lambda: calibration.taking, timeout=5_000)
        qtbot.waitUntil(lambda: not calibration.taking, timeout=10_000)
    assert "as before" in colours.answer_head.text()


def test_comparing_can_be_cancelled_by_key(stocked: Window, qtbot: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from gui.matrix import Matrix

    began: list[Path] = []
    gate = threading.Event()
    original = Matrix._load

    def slow(self: Matrix, path: Path) -> Any:
        began.append(path)
        gate.wait(10)
        return original(self, path)

    monkeypatch.setattr(Matrix, "_load", slow)
    stocked.show_place("decide")
    decide: Any = stocked.place
    qtbot.waitUntil(lambda: len(began) == 1, timeout=10_000)
    press(qtbot, stocked, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: decide.matrix._job is not None and decide.matrix._job.cancelled, timeout=5_000)
    gate.set()
    qtbot.waitUntil(lambda: not decide.matrix.busy, timeout=10_000)
    assert len(began) == 1, "the runs after the cancelled one were not replayed"
